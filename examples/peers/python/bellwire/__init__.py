"""A Bellwire peer in plain Python: the wire of core/WIRE.md, version 1, for two boards on one line. See README.md."""

from .dead_man import DeadMan
from .framings import REJECTS, Datagram, Slip
from .frames import ERRAND, REPORT, message_number, read_frame
from .octets import Cobs, OctetStuffing, Wire, fcs
from .port import Port
