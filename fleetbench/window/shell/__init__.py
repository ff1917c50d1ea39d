"""The window itself: start, pages, actions, background work."""
