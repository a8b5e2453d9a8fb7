"""The whole table of breaks."""

from tests.simulators.conformance.breaks import Break
from tests.simulators.conformance.breaks_of_conduct import OF_CONDUCT
from tests.simulators.conformance.breaks_of_frames import OF_FRAMES
from tests.simulators.conformance.breaks_of_hearing import OF_HEARING
from tests.simulators.conformance.breaks_of_numbers import OF_NUMBERS

BREAKS: tuple[Break, ...] = (*OF_FRAMES, *OF_CONDUCT, *OF_HEARING, *OF_NUMBERS)
