"""Ratios and angles derived from estimates, one SymPy declaration each."""
