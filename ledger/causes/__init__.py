"""Why metal is missing: hypotheses over the residuals, their odds, patterns, and what would go unnoticed."""

import os

# Matrices of a month are small: more threads wait for each other longer than they work, many times over beside others.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
