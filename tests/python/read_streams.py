"""Prints what a Standard MIDI File sends on each channel of each port, as mido reads it.

In: the path of a file. Out: a line for each message, sorted by port, channel, tick and bytes. Ports
and channels are counted from 1, and bytes are in hexadecimal. A message that sets a controller to the
value it has already is left out, because a receiver does not notice it. Before its first move, a
controller is at rest: the state after "reset all controllers" (MIDI recommended practice RP-015).

    PORT CHANNEL TICK BYTES...
"""

import sys

import mido

# Modulation, expression and sustain, by controller number.
REST = {1: 0, 11: 127, 64: 0}


def kind_and_value(message):
    """The controller that a message moves, and its value; None for any other message."""
    match message.type:
        case "control_change":
            return message.control, message.value
        case "pitchwheel":
            return "bend", message.pitch
        case "program_change":
            return "program", message.program
        case "aftertouch":
            return "pressure", message.value
    return None


def events(path):
    """All channel messages with their ticks and ports, in playing order: by tick, then by track."""
    found = []
    for track in mido.MidiFile(path).tracks:
        now, port = 0, 0
        for message in track:
            now += message.time
            if message.type == "midi_port":
                port = message.port
            elif not message.is_meta and hasattr(message, "channel"):
                found.append((now, port, message))
    return sorted(found, key=lambda event: event[0])


def lines_of(path):
    state, lines = {}, []
    for now, port, message in events(path):
        if moved := kind_and_value(message):
            kind, value = moved
            place = port, message.channel, kind
            rest = REST.get(kind, 0 if kind in ("bend", "pressure") else None)
            if state.get(place, rest) == value:
                continue
            state[place] = value
        lines.append((port + 1, message.channel + 1, now, message.hex()))
    return [" ".join(map(str, line)) for line in sorted(lines)]


if __name__ == "__main__":
    print("\n".join(lines_of(sys.argv[1])))
