"""The gate and its tests; ``python -m tests`` runs them."""

#: Seconds after which something that a test waits for is taken to hang: nothing is judged by them, and a machine that
#: is ten times as busy as usual needs far less.
HANG = 200.0
#: How pytest is told to use more than one core; ``conftest.pytest_xdist_make_scheduler`` says what stays together.
SIDE_BY_SIDE = ("-n", "auto", "--maxprocesses", "4", "--dist", "loadfile", "--no-loadscope-reorder")
