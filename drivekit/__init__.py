"""How long toothed blower-drive belts last, and what makes them last: a season's log in, findings out."""

__version__ = "0.1.0"
