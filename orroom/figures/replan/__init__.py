"""When the harvest gives other numbers than the plan: how the sizes are best divided over the zones.

The cost and the programme are written twice on purpose: ``problem.cost`` scores any division, and a test
keeps the solver's answer equal to the best of all divisions of small cases by brute force. Pieces of the
cost are convex, so there are no binaries. The solver is loaded and runs in a thread; its version 1.16.0
writes its name to the terminal, hence the limit in ``pyproject.toml`` and a test that it says nothing.
"""
