"""fleetbench: the servicing bench of a dive centre's fleet of closed-circuit rebreathers."""

__version__ = "0.1.0"
