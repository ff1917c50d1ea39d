"""PINs of tests are kept by little work: the program's own, once a PIN, would cost a tenth of a second a test.

SHIPPED is what the program keeps them by; tests/workshop/people/test_pins.py looks at it.
"""

from argon2 import PasswordHasher, Type

from fleetbench.workshop.people import acts

SHIPPED = acts.HASHER
acts.HASHER = PasswordHasher(time_cost=1, memory_cost=8, parallelism=1, type=Type.ID)
