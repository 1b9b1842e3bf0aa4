"""How fast it is on this computer; `python -m benchmarks` prints all figures."""

import os

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # as every command does (cli/main.py)
