"""How sure a delivered flow is: bands over common random numbers, wins, and the measurement worth making."""
