"""A pattern laid on counts.

``layout.lay_out`` makes a ``plan.Plan`` for a ``passage``: the moments of ``cycle_moments`` and the ``cues``, all on
the take clock. ``plan_file`` is its JSON. ``laid_anew`` corrects a plan after the take, ``section_plans`` takes a
run-through apart, and ``every_count`` is the plan without a drill.
"""
