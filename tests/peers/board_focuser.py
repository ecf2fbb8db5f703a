# Runs on the board, after small.py and the generated observatory.py: a focuser that goes where it is told, in name only, and reports where it is.


def main(mine):
    micropython.kbd_intr(-1)  # noise can make an octet 0x03, whatever the sender avoids
    port = Port(uart, 11520, mine, terms=b"\x010\0" + FINGERPRINT.to_bytes(4, "little") + b"\x1e\0\0\0\0\0\0\0\0")
    position = None
    low = gc.mem_free()
    while True:
        event = port.service(running_time())
        if event is None:
            if position is not None and port.send(encode(FOCUSER_STATE, {"position": position, "temperature": -low}), REPORT):
                position = None
        elif event[0] == ERRAND:
            try:
                position = decode(event[1])[1]["position"]
            except Fault as fault:
                print(fault)
            gc.collect()
            low = min(low, gc.mem_free())


import gc
import micropython
from microbit import uart, running_time
