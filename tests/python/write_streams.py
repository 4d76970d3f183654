"""Writes a Standard MIDI File with mido whose parts share channels and play on several ports.

In: the path to write and a seed. Out: the file, and the lines that read_streams.py prints for it.
Each port has parts on all sixteen channels. On some channels two tracks play, and both move the
channel's expression, bend, sustain and program. The last pedals are released exactly at the end.
"""

import random
import sys

import mido
from read_streams import lines_of
from write_midi import in_order

PPQ = 960
BAR = 4 * PPQ
BARS = 4


def notes(rng, channel, lowest):
    """A line of notes that never overlap, in a range of keys that no other part has."""
    at = rng.choice([0, 0, rng.randrange(1, PPQ)])
    while at < BARS * BAR - PPQ:
        length = rng.randrange(60, PPQ)
        note = {"channel": channel, "note": lowest + rng.randrange(12)}
        yield at, mido.Message("note_on", velocity=rng.randrange(1, 128), **note)
        yield at + length, mido.Message("note_off", velocity=rng.randrange(128), **note)
        at += length + rng.randrange(1, PPQ)


def moves(rng, channel, place):
    """Moves of the channel's controllers. Each part has ticks of its own: no two moves coincide."""
    def ticks(count):
        return [3 * tick + place for tick in sorted(rng.sample(range(40, BARS * BAR // 3), count))]

    for at in ticks(rng.randrange(30)):
        yield at, mido.Message("control_change", channel=channel, control=11, value=rng.randrange(128))
    for at in ticks(rng.randrange(20)):
        yield at, mido.Message("pitchwheel", channel=channel, pitch=rng.randrange(-8192, 8192))
    for at in ticks(rng.randrange(10)):
        yield at, mido.Message("control_change", channel=channel, control=64, value=rng.randrange(128))
    for at in ticks(rng.randrange(3)):
        yield at, mido.Message("program_change", channel=channel, program=rng.randrange(128))


def part(rng, port, channel, place):
    at_start = [mido.MetaMessage("track_name", name=f"Part {port + 1} {channel + 1} {place + 1}")]
    at_start.append(mido.MetaMessage("midi_port", port=port))
    if place == 0:
        at_start.append(mido.Message("program_change", channel=channel, program=rng.randrange(128)))
        at_start.append(mido.Message("control_change", channel=channel, control=7, value=100))
    moments = [(0, message) for message in at_start]
    moments += notes(rng, channel, 40 + 20 * place)
    moments += moves(rng, channel, place)
    if place == 0:
        pedal = {"channel": channel, "control": 64}
        moments.append((BARS * BAR - 40, mido.Message("control_change", value=100, **pedal)))
        moments.append((BARS * BAR, mido.Message("control_change", value=0, **pedal)))
    return moments


def main(path, seed):
    rng = random.Random(seed)
    midi = mido.MidiFile(type=1, ticks_per_beat=PPQ)
    for port in rng.choice([(0, 1), (0, 2, 5), (3,), (0,)]):
        for channel in range(16):
            for place in range(rng.choice([1, 1, 2])):
                midi.tracks.append(in_order(part(rng, port, channel, place)))
    midi.save(path)


if __name__ == "__main__":
    main(sys.argv[1], int(sys.argv[2]))
    print("\n".join(lines_of(sys.argv[1])))
