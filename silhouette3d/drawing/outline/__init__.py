"""From curves to an outline: close, check, nest."""
