"""The limits by which a fit is judged, each with its reason. Arithmetic tolerances stand in `ground`."""

LEAST_TEETH = 6.0  # in mesh on a pulley that drives or is driven; maker sheets
KEY_ROOM_MM = 1.0  # an access hole is the key's corners plus this; common practice, no source
PROUD_MM = 0.05  # a head higher than this over its counterbore is felt by a finger and by a seal
ROUNDING_MM = 1e-6  # lengths that are equal on paper
TEETH_PER_BELT_PAIR = 0.5  # two equal belts may differ by less than half a tooth
SNUG_SHARE = 0.25  # of the final torque: holds by itself, can be shifted by hand; common practice
