"""The cautions that stand wherever someone may go from the screen to the engine."""

__all__ = ["CAUTIONS"]

CAUTIONS: tuple[str, ...] = (
    "Engine off, fuel shut off, ignition grounded and starter disconnected before hands go near the drive.",
    "Plugs out before the engine is turned by hand.",
    "Never pluck, pry or reach in while the engine can turn.",
    "A tight belt stores energy: back the adjuster off before the clamp is opened.",
    "Refit guards and blower restraint as the rule book says.",
    "The calculators estimate; the makers' limits and the sanctioning body's rules decide.",
    "A belt whose look says off comes off: it is given no odds.",
)
"""One sentence each, in the order of the work."""
