"""The whole program driven at random through its acts, beside a plain model of the truth: `python -m tests.machine`."""
