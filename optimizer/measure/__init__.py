"""From a bucket and a stopwatch to a calibrated loop, the next test worth making, and a verdict after the upgrade."""
