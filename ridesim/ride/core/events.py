"""What ends a phase of a ride: ``from ridesim.ride.core import events``."""

EVENT_NAMES = (
    "", "at the commanded speed", "end of the leg", "comes to a stand", "pull falls short", "breaks away", "pack empty",
    "cut-out or return", "stalls", "gives up", "calculation given up",
)  # fmt: skip
ENDED, COMMAND, PLACE, STOOD, SHORT, RELEASED, EMPTY, SWITCHED, HELD, LEAVES, SPENT = range(11)
"""Why a phase ended: its time is up, or what EVENT_NAMES says. SWITCHED: the controller has cut out or come back; HELD: the pull does
not break the vehicle away; LEAVES: it has crawled for too long; SPENT: the ride has taken all the steps it may. All but the last
three are watched for inside a step."""
WATCHED = 8
