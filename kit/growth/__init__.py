"""Growth: curves with honest bands, centiles, alerts. It knows no plot, notebook or database."""

from kit.growth.fitting import fit

__all__ = ["fit"]
