"""What stands on the grooming table: the measuring panel and the state behind it."""

import os

# The matrices of one dog are small: spread over several cores each step takes longer, not shorter.
# Numpy reads this when it is first imported, which in a notebook of the kit is after this line.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
