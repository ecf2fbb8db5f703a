# Runs on the board, after the generated observatory.py: decodes payloads (in hex, each ended by a blank), encodes them again, and keeps an eye on the
# memory. The count tells whether octets were lost on the way here.


def main(payloads, count):
    if len(payloads) != count:
        raise ValueError
    while payloads:
        word, payloads = payloads.split(" ", 1)
        octets = bytearray()
        while word:
            octets.append(int(word[:2], 16))
            word = word[2:]
        gc.collect()
        try:
            print(encode(*decode(octets)))
        except Fault as fault:
            print(fault.args)
        free.append(min(free.pop(), gc.mem_free()))
    return free[0]


import gc
free = [99999]
