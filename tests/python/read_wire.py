"""Prints the messages that mido, an independent reader, finds in the bytes from a port.

In: the path of a file with the bytes. Out: a line for each message, with numbers in decimal and
system exclusive messages in hexadecimal:

    quarter PIECE VALUE
    exclusive BYTES...
    NAME                  for any other message: clock, start, stop, note_on...
"""

import sys

import mido


def lines_of(data):
    parser = mido.Parser()
    parser.feed(data)
    for message in parser:
        if message.type == "quarter_frame":
            yield f"quarter {message.frame_type} {message.frame_value}"
        elif message.type == "sysex":
            yield f"exclusive {message.hex()}"
        else:
            yield message.type


if __name__ == "__main__":
    with open(sys.argv[1], "rb") as file:
        print("\n".join(lines_of(file.read())))
