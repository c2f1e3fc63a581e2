"""Flask: a view parses, calls one action, and renders."""
