"""How fast it is on this computer; `python -m benchmarks` prints all figures."""
