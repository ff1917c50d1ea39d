"""Absorbent: the containers as bought, how much is left in each, and when they run out."""

from fleetbench.window.canisters.containers import ContainerList
from fleetbench.window.shell.pages import PageContext


def list_page(context: PageContext) -> ContainerList:
    """The list of containers."""
    return ContainerList(context)
