"""Thin adapters: command line and web."""

import os

# matrices here are small: threads for them cost more than they bring, and spin while they wait
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
