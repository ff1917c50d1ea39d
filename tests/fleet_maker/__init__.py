"""An invented dive centre's sheets, made from physics and a seed; nothing in them is real."""
