"""Reads a WAV file with libsndfile, a library by others.

In: the path of a WAV file, and one to write to. Out: one line, `CHANNELS RATE FRAMES SUBTYPE`; and
in the other file every sample as a 32-bit float in the machine's own order, channel by channel in
each frame, where whole numbers are divided by full scale.
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
