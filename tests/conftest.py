"""How the tests run: the same everywhere, with no clock in the way."""

import os

# Several workers share the cores already: threads of the linear algebra would only wait for each other. It is
# read when numpy is first loaded, and children inherit it.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

from hypothesis import HealthCheck, settings

# No deadline: two cores shared by several workers make the time of one example say nothing about the code.
settings.register_profile("here", deadline=None, suppress_health_check=[HealthCheck.too_slow])
# Where a run decides whether a change goes in, the same examples come every time.
settings.register_profile("decides", settings.get_profile("here"), derandomize=True)
settings.load_profile("decides" if os.environ.get("CI") else "here")
