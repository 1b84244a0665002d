"""The gate and its tests; ``python -m tests`` runs them."""

#: How pytest is told to use more than one core, with the groups of ``conftest.pytest_collection_modifyitems``.
SIDE_BY_SIDE = ("-n", "auto", "--maxprocesses", "4", "--dist", "loadgroup", "--no-loadscope-reorder")
