"""Reads a WAV file with libsndfile, an independent library.

In: the path of a WAV file, and a path to write to. Out: one line, `CHANNELS RATE FRAMES SUBTYPE`; and
the written file, which contains every sample as a 32-bit float in the machine's byte order, channel by
channel in each frame. Full scale is 1.0.
"""

import sys

import soundfile


def read(path, to):
    with soundfile.SoundFile(path) as file:
        samples = file.buffer_read(dtype="float32")
        print(file.channels, file.samplerate, file.frames, file.subtype)
    with open(to, "wb") as out:
        out.write(samples)


if __name__ == "__main__":
    read(sys.argv[1], sys.argv[2])
