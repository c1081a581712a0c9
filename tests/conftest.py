"""One thread for the linear algebra: on a few dozen rows more threads only wait for each other."""

import os

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
