#!/usr/bin/python3
"""The core of the same job in scikit-image (Debian python3-skimage), every pixel for itself: read,
sRGB to Lab, an affine by phase correlation, CIEDE2000. No target, no regions, no uncertainty, no ink, no
report.

    plain_skimage.py BEFORE AFTER [BEFORE AFTER]...
"""
import sys

import numpy as np
from skimage import color, io, registration, transform


def lab_of(file):
    return color.rgb2lab(io.imread(file).astype(np.float32) / 65535, illuminant="D50")


def main():
    for before, after in zip(sys.argv[1::2], sys.argv[2::2]):
        first, later = lab_of(before), lab_of(after)
        rows, columns = min(first.shape[0], later.shape[0]), min(first.shape[1], later.shape[1])
        first, later = first[:rows, :columns], later[:rows, :columns]
        shift, _, _ = registration.phase_cross_correlation(
            first[::4, ::4, 0], later[::4, ::4, 0], upsample_factor=8
        )
        move = transform.AffineTransform(translation=(-4 * shift[1], -4 * shift[0]))
        later = transform.warp(later, move, order=3, preserve_range=True).astype(np.float32)
        print(np.mean(color.deltaE_ciede2000(first, later)))


if __name__ == "__main__":
    main()
