"""Points, sweeps and their datasets: questions asked of the rooms below."""
