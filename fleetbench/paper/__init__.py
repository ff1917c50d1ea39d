"""What leaves the program: pages and sheets made from plain dataclasses."""
