#!/usr/bin/env python3
"""Writes 1.5-megapixel 16-bit films into a folder and times opening them with
Pillow, OpenCV, tifffile and pydicom: best and median of several runs, ms.

Usage: bench_open.py FOLDER. Called by the benchmark `film`; the films are a
computed slope with noise of the size a detector has (about 9 bits of it).
"""

import pathlib
import statistics
import sys
import time

import cv2
import numpy as np
import pydicom
import tifffile
from PIL import Image
from pydicom.dataset import FileDataset, FileMetaDataset
from pydicom.uid import UID

WIDTH, HEIGHT, RUNS = 1500, 1000, 9


def make(folder):
    y, x = np.mgrid[0:HEIGHT, 0:WIDTH]
    noise = np.random.default_rng(1).normal(0, 150, (HEIGHT, WIDTH))
    level = 30000 + 15000 * np.sin(x / 90) * np.cos(y / 70) + noise
    samples = np.clip(level, 0, 65535).astype(np.uint16)
    Image.fromarray(samples).save(folder / "film.png")
    Image.fromarray(samples).save(folder / "film.tif")
    Image.fromarray(samples).save(folder / "film_lzw.tif", compression="tiff_lzw")
    ds = dicom(samples)
    save(ds, folder / "film.dcm")
    ds.compress("1.2.840.10008.1.2.5", encoding_plugin="pylibjpeg")
    save(ds, folder / "film_rle.dcm")
    ds = dicom(samples)
    ds.compress("1.2.840.10008.1.2.4.90", encoding_plugin="pylibjpeg")
    save(ds, folder / "film_jpeg2000.dcm")


def dicom(samples):
    meta = FileMetaDataset()
    meta.MediaStorageSOPClassUID = "1.2.840.10008.5.1.4.1.1.1.3"
    meta.MediaStorageSOPInstanceUID = "2.25.1"
    meta.TransferSyntaxUID = UID("1.2.840.10008.1.2.1")
    ds = FileDataset(None, {}, file_meta=meta, preamble=b"\0" * 128)
    ds.SOPClassUID, ds.SOPInstanceUID = meta.MediaStorageSOPClassUID, "2.25.1"
    ds.Rows, ds.Columns, ds.SamplesPerPixel = HEIGHT, WIDTH, 1
    ds.PhotometricInterpretation = "MONOCHROME2"
    ds.BitsAllocated, ds.BitsStored, ds.HighBit, ds.PixelRepresentation = 16, 16, 15, 0
    ds.PixelData = samples.tobytes()
    ds["PixelData"].VR = "OW"
    return ds


def save(ds, path):
    ds.save_as(path, enforce_file_format=True)


def by_pillow(path):
    with Image.open(path) as image:
        return np.asarray(image)


def by_opencv(path):
    return cv2.imread(str(path), cv2.IMREAD_UNCHANGED)


def by_pydicom(path):
    return pydicom.dcmread(path).pixel_array


READERS = {
    "film.png": {"Pillow": by_pillow, "OpenCV": by_opencv},
    "film.tif": {"Pillow": by_pillow, "OpenCV": by_opencv, "tifffile": tifffile.imread},
    "film_lzw.tif": {"Pillow": by_pillow, "OpenCV": by_opencv},
    "film.dcm": {"pydicom": by_pydicom},
    "film_rle.dcm": {"pydicom": by_pydicom},
    "film_jpeg2000.dcm": {"pydicom": by_pydicom},
}


def main():
    folder = pathlib.Path(sys.argv[1])
    make(folder)
    for name, readers in READERS.items():
        for reader, read in readers.items():
            times = []
            for _ in range(RUNS):
                start = time.perf_counter()
                read(folder / name)
                times.append(1000 * (time.perf_counter() - start))
            print(f"{name:20} {reader:9} {min(times):7.1f} best {statistics.median(times):7.1f} median")


if __name__ == "__main__":
    main()
