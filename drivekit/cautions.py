"""The cautions that stand wherever someone may go from the screen to the engine."""

__all__ = ["CAUTIONS"]

CAUTIONS: tuple[str, ...] = (
    "Engine off, fuel shut off, ignition grounded and starter disconnected before hands go near the drive.",
    "The engine is turned by hand by two people, plugs out, hands off the belt.",
    "Never pluck, pry or reach in while the engine can turn.",
    "A tight belt stores energy: back the adjuster off before the clamp is opened.",
    "Guards and blower restraint on, as the rule book says, before the engine is started.",
    "A running belt is watched from outside its plane, never across it; a camera serves.",
    "The calculators estimate; the makers' limits and the sanctioning body's rules decide.",
    "A belt whose look says off comes off: it is given no odds.",
)
"""One sentence each, in the order of the work."""
