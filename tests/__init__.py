"""The gate and its tests; ``python -m tests`` runs them."""

#: How pytest is told to use more than one core; ``conftest.pytest_xdist_make_scheduler`` says what stays together.
SIDE_BY_SIDE = ("-n", "auto", "--maxprocesses", "4", "--dist", "loadfile", "--no-loadscope-reorder")
