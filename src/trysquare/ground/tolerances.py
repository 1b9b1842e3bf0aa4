"""Every tolerance by name, with its unit and its reason. Nothing else defines one.

Arithmetic tolerances absorb rounding; workshop tolerances say what a builder can see or feel.
They are never shared.
"""

# arithmetic
SAME_POINT_MM = 1e-6  # far below any instrument, far above rounding at 10 m
SAME_DIRECTION = 1e-9  # of unit vectors; 1e-9 rad is 1e-6 mm over 1 m

# workshop
CONTACT_MM = 0.02  # faces drawn touching may cross by this much before we call it an overlap
OVERLAP_MM3 = 0.02  # a smaller shared volume is a facet of a round surface, not a clash
CARRIAGE_OVER_END_MM = 5.0  # end caps carry no balls: beyond this over the rail's end they fall out
SAME_ROW_MM = 0.05  # two rows of holes nearer than this are one row: far less than a screw's play there
NUT_PLACE_MM = 1.0  # papers and rulers give a nut's place in a slot to the millimetre
STOPS_LEVEL_MM = 0.1  # a pinch rod between stop and carriage tells no less; 0.03 mm/100 across 350 mm
ON_AXIS_MM = 0.3  # a screw may stand this far beside the slot's or hole's axis and still start
