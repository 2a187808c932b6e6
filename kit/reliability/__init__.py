"""Whether measurers can be trusted: agreement between hands, repeats, judges and graders."""

from kit.estimation.agreement import fleiss_kappa, gwet_ac1, kendall_w
from kit.reliability.bland_altman import bland_altman
from kit.reliability.intraclass import icc
from kit.reliability.technical_error import tem

__all__ = ["bland_altman", "fleiss_kappa", "gwet_ac1", "icc", "kendall_w", "tem"]
