"""Sweeps to labelled datasets: plan, cases, charts, workers, what is kept, repeated and read."""
