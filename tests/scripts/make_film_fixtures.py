#!/usr/bin/env python3
"""Writes the small film files of tests/data/film and what other readers see in them.

Run from anywhere; needs numpy, Pillow, opencv-python-headless, tifffile,
pydicom with pylibjpeg (libjpeg, openjpeg, rle), ImageMagick and dcmtk. The
tests themselves need none of these: both the files and `expected.json` are
committed. Pixels are computed, nothing is taken from a real film.

expected.json: file name -> width, height, bits, low_is_opaque, tolerance
(largest allowed difference per value), values (row-major, after sign, rescale
and grey conversion) and `read_by`, the reader that gave them.
"""

import io
import json
import pathlib
import subprocess
import tempfile
import zlib

import cv2
import numpy as np
import pydicom
import tifffile
from PIL import Image, ImageOps
from pydicom.dataset import Dataset, FileDataset, FileMetaDataset
from pydicom.encaps import encapsulate
from pydicom.uid import UID

OUT = pathlib.Path(__file__).resolve().parent.parent / "data" / "film"
WIDTH, HEIGHT = 16, 12
EXPECTED = {}


def pattern(bits, seed=1, shape=(HEIGHT, WIDTH)):
    """Waves and noise that use the whole depth."""
    y, x = np.mgrid[0 : shape[0], 0 : shape[1]]
    noise = np.random.default_rng(seed).uniform(-0.1, 0.1, shape)
    level = 0.5 + 0.3 * np.sin(x / 3.0) + 0.2 * np.cos(y / 2.5) + noise
    top = 2**bits - 1
    values = np.clip(np.round(level * top), 0, top).astype(np.int64)
    values[0, 0], values[0, 1] = 0, top
    return values


def luma(rgb):
    """Rec. 601 in the 16-bit weights Pillow uses for mode L."""
    rgb = np.asarray(rgb).astype(np.int64)
    return (19595 * rgb[..., 0] + 38470 * rgb[..., 1] + 7471 * rgb[..., 2] + 0x8000) >> 16


def expect(name, values, bits, read_by, tolerance=0, low_is_opaque=False):
    values = np.asarray(values)
    EXPECTED[name] = {
        "width": int(values.shape[1]),
        "height": int(values.shape[0]),
        "bits": bits,
        "low_is_opaque": low_is_opaque,
        "tolerance": tolerance,
        "read_by": read_by,
        "values": [float(v) if isinstance(v, np.floating) else int(v) for v in values.ravel()],
    }


# --- pictures -----------------------------------------------------------------


def colour(bits, shape=(HEIGHT, WIDTH)):
    return np.stack([pattern(bits, seed, shape) for seed in (1, 2, 3)], axis=-1)


def seen_by_pillow(name):
    with Image.open(OUT / name) as image:
        image = ImageOps.exif_transpose(image)
        if image.mode.startswith("I;16") or image.mode == "I":
            return np.asarray(image).astype(np.int64)
        if image.mode in ("LA", "RGBA", "PA") or "transparency" in image.info:
            image = image.convert("RGBA")
            black = Image.new("RGBA", image.size, (0, 0, 0, 255))
            image = Image.alpha_composite(black, image)
        return np.asarray(image.convert("RGB").convert("L")).astype(np.int64)


def packed_png(name, values, bits):
    """Grey PNG of 1, 2 or 4 bits, which Pillow does not write."""

    def chunk(kind, data):
        body = kind + data
        return len(data).to_bytes(4, "big") + body + zlib.crc32(body).to_bytes(4, "big")

    rows = b""
    for row in values:
        text = "".join(f"{v:0{bits}b}" for v in row)
        text += "0" * (-len(text) % 8)
        rows += b"\0" + bytes(int(text[i : i + 8], 2) for i in range(0, len(text), 8))
    header = values.shape[1].to_bytes(4, "big") + values.shape[0].to_bytes(4, "big")
    header += bytes([bits, 0, 0, 0, 0])
    (OUT / name).write_bytes(
        b"\x89PNG\r\n\x1a\n"
        + chunk(b"IHDR", header)
        + chunk(b"IDAT", zlib.compress(rows))
        + chunk(b"IEND", b"")
    )
    expect(name, values, bits, "the pattern itself")


def pictures():
    grey8, grey16 = pattern(8).astype(np.uint8), pattern(16).astype(np.uint16)
    rgb8, rgb16 = colour(8).astype(np.uint8), colour(16).astype(np.uint16)
    alpha = pattern(8, 4).astype(np.uint8)

    # PNG
    for bits in (1, 2, 4):
        # An odd width leaves unused bits at the end of a row.
        packed_png(f"grey{bits}.png", pattern(bits)[:, :13], bits)
    Image.fromarray(grey8).save(OUT / "grey8.png", dpi=(600, 300))
    expect("grey8.png", seen_by_pillow("grey8.png"), 8, "Pillow")
    Image.fromarray(grey16).save(OUT / "grey16.png")
    expect("grey16.png", seen_by_pillow("grey16.png"), 16, "Pillow")
    subprocess.run(
        ["convert", OUT / "grey16.png", "-interlace", "PNG", "-define", "png:exclude-chunks=all",
         OUT / "grey16_interlaced.png"],
        check=True,
    )
    expect("grey16_interlaced.png", seen_by_pillow("grey16_interlaced.png"), 16, "Pillow")
    Image.fromarray(rgb8).save(OUT / "rgb8.png")
    expect("rgb8.png", seen_by_pillow("rgb8.png"), 8, "Pillow")
    cv2.imwrite(str(OUT / "rgb16.png"), rgb16[..., ::-1])
    seen = cv2.imread(str(OUT / "rgb16.png"), cv2.IMREAD_ANYDEPTH | cv2.IMREAD_COLOR)
    expect("rgb16.png", luma(seen[..., ::-1]), 16, "OpenCV")
    Image.fromarray(np.dstack([rgb8, alpha])).save(OUT / "rgba8.png")
    expect("rgba8.png", seen_by_pillow("rgba8.png"), 8, "Pillow", tolerance=1)
    Image.fromarray(np.dstack([grey8, alpha]), "LA").save(OUT / "grey_alpha8.png")
    expect("grey_alpha8.png", seen_by_pillow("grey_alpha8.png"), 8, "Pillow", tolerance=1)
    for bits, colours in ((2, 4), (4, 16), (8, 200)):
        name = f"palette{bits}.png"
        Image.fromarray(rgb8).quantize(colours).save(OUT / name, bits=bits)
        expect(name, seen_by_pillow(name), 8, "Pillow")
    exif = Image.Exif()
    exif[0x0112] = 6
    Image.fromarray(grey8).save(OUT / "grey8_turned.png", exif=exif)
    expect("grey8_turned.png", seen_by_pillow("grey8_turned.png"), 8, "Pillow")

    # JPEG; inverse transforms may differ by one step.
    Image.fromarray(grey8).save(OUT / "grey8.jpg", quality=90, dpi=(300, 300))
    Image.fromarray(rgb8).save(OUT / "rgb8_444.jpg", quality=90, subsampling=0)
    smooth = cv2.GaussianBlur(rgb8, (0, 0), 3)
    Image.fromarray(smooth).save(OUT / "rgb8_420.jpg", quality=95, subsampling=2)
    Image.fromarray(grey8).save(OUT / "grey8_progressive.jpg", quality=90, progressive=True)
    for name, tolerance in (
        ("grey8.jpg", 1),
        ("rgb8_444.jpg", 2),
        ("rgb8_420.jpg", 2),
        ("grey8_progressive.jpg", 1),
    ):
        expect(name, seen_by_pillow(name), 8, "Pillow", tolerance)
    for orientation in range(1, 9):
        exif = Image.Exif()
        exif[0x0112] = orientation
        exif[0x011A], exif[0x011B], exif[0x0128] = 400.0, 200.0, 3
        name = f"grey8_orientation{orientation}.jpg"
        Image.fromarray(grey8).save(OUT / name, quality=90, exif=exif)
        expect(name, seen_by_pillow(name), 8, "Pillow", tolerance=1)

    # TIFF
    def by_tifffile(name, data, bits, **options):
        tifffile.imwrite(OUT / name, data, metadata=None, software=False, **options)
        return name

    Image.fromarray(grey8 > 127).save(OUT / "grey1.tif")
    expect("grey1.tif", (grey8 > 127).astype(int), 1, "the pattern itself")
    Image.fromarray(grey8 > 127).save(OUT / "grey1_fax4.tif", compression="group4")
    expect("grey1_fax4.tif", (grey8 > 127).astype(int), 1, "the pattern itself")
    for compression in ("raw", "tiff_lzw", "tiff_adobe_deflate", "packbits"):
        for depth, data in ((8, grey8), (16, grey16)):
            name = f"grey{depth}_{compression}.tif"
            Image.fromarray(data).save(OUT / name, compression=compression, dpi=(1000, 500))
            expect(name, seen_by_pillow(name), depth, "Pillow")
    Image.fromarray(grey8).save(OUT / "grey8_jpeg.tif", compression="jpeg")
    expect("grey8_jpeg.tif", seen_by_pillow("grey8_jpeg.tif"), 8, "Pillow", tolerance=1)
    Image.fromarray(smooth).save(OUT / "rgb8_jpeg.tif", compression="jpeg")
    expect("rgb8_jpeg.tif", seen_by_pillow("rgb8_jpeg.tif"), 8, "Pillow", tolerance=2)
    by_tifffile("grey16_big_endian.tif", grey16, 16, byteorder=">")
    expect("grey16_big_endian.tif", tifffile.imread(OUT / "grey16_big_endian.tif"), 16, "tifffile")
    by_tifffile("grey16_tiled.tif", grey16, 16, tile=(16, 16))
    expect("grey16_tiled.tif", tifffile.imread(OUT / "grey16_tiled.tif"), 16, "tifffile")
    for depth, data in ((8, grey8), (16, grey16)):
        name = by_tifffile(f"white_is_zero{depth}.tif", data, depth, photometric="miniswhite")
        expect(name, 2**depth - 1 - data.astype(np.int64), depth, "the pattern, inverted")
    by_tifffile("rgb8.tif", rgb8, 8, photometric="rgb")
    expect("rgb8.tif", luma(tifffile.imread(OUT / "rgb8.tif")), 8, "tifffile")
    by_tifffile("rgb16.tif", rgb16, 16, photometric="rgb")
    expect("rgb16.tif", luma(tifffile.imread(OUT / "rgb16.tif")), 16, "tifffile")
    Image.fromarray(rgb8).quantize(200).save(OUT / "palette8.tif")
    Image.fromarray(grey16).save(OUT / "grey16_turned.tif", tiffinfo={274: 8})
    # Orientation 8: a quarter turn against the clock makes it upright.
    turned = np.rot90(tifffile.imread(OUT / "grey16_turned.tif"))
    expect("grey16_turned.tif", turned, 16, "tifffile, turned by NumPy")

    # BMP
    Image.fromarray(grey8).save(OUT / "grey8.bmp", dpi=(600, 600))
    Image.fromarray(grey8 > 127).save(OUT / "grey1.bmp")
    Image.fromarray(rgb8).save(OUT / "rgb8.bmp")
    Image.fromarray(np.dstack([rgb8, np.full_like(grey8, 255)])).save(OUT / "rgba8.bmp")
    subprocess.run(
        ["convert", OUT / "rgb8.bmp", "-colors", "12", "-depth", "4", "BMP3:" + str(OUT / "palette4.bmp")],
        check=True,
    )
    for name in ("grey8.bmp", "grey1.bmp", "rgb8.bmp", "rgba8.bmp", "palette4.bmp"):
        expect(name, seen_by_pillow(name), 8, "Pillow")


# --- DICOM --------------------------------------------------------------------

EXPLICIT = "1.2.840.10008.1.2.1"


def film(array, bits_stored, bits_allocated=None, signed=False, photometric="MONOCHROME2", **more):
    meta = FileMetaDataset()
    meta.MediaStorageSOPClassUID = "1.2.840.10008.5.1.4.1.1.1.3"
    meta.MediaStorageSOPInstanceUID = "2.25.1"
    meta.TransferSyntaxUID = UID(EXPLICIT)
    meta.ImplementationClassUID = "2.25.2"
    ds = FileDataset(None, {}, file_meta=meta, preamble=b"\0" * 128)
    ds.SOPClassUID = meta.MediaStorageSOPClassUID
    ds.SOPInstanceUID = meta.MediaStorageSOPInstanceUID
    ds.StudyInstanceUID, ds.SeriesInstanceUID = "2.25.3", "2.25.4"
    ds.Modality = "IO"
    ds.PatientName, ds.PatientID = "Phantom^Nobody", "PHANTOM-ID"
    ds.Rows, ds.Columns = array.shape[:2]
    ds.PhotometricInterpretation = photometric
    ds.SamplesPerPixel = 3 if array.ndim == 3 else 1
    if array.ndim == 3:
        ds.PlanarConfiguration = 0
    ds.BitsAllocated = bits_allocated or (8 if bits_stored <= 8 else 16)
    ds.BitsStored, ds.HighBit = bits_stored, bits_stored - 1
    ds.PixelRepresentation = int(signed)
    kind = {8: "u1", 16: "<u2"}[ds.BitsAllocated]
    ds.PixelData = (array & (2**ds.BitsAllocated - 1)).astype(kind).tobytes()
    ds["PixelData"].VR = "OW" if ds.BitsAllocated == 16 else "OB"
    for keyword, value in more.items():
        setattr(ds, keyword, value)
    return ds


def save(ds, name, syntax=None):
    if syntax:
        ds.file_meta.TransferSyntaxUID = UID(syntax)
    if ds.file_meta.TransferSyntaxUID.is_encapsulated:
        ds["PixelData"].VR = "OB"
    if ds.file_meta.TransferSyntaxUID.is_little_endian:
        ds.save_as(OUT / name, enforce_file_format=True)
    else:
        # The plain writer, which also leaves out the group length of the meta.
        pydicom.dcmwrite(
            OUT / name, ds, little_endian=False, implicit_vr=False, force_encoding=True
        )


def seen_by_pydicom(name):
    """Stored values; colour made luma, rescale applied."""
    ds = pydicom.dcmread(OUT / name)
    array = ds.pixel_array
    if ds.PhotometricInterpretation == "PALETTE COLOR":
        array = pydicom.pixels.apply_color_lut(array, ds)
    array = array.astype(np.int64)
    if array.ndim == 3:
        array = luma(array)
    slope, intercept = ds.get("RescaleSlope"), ds.get("RescaleIntercept")
    if slope is not None:
        array = array * float(slope) + float(intercept)
    return array


def check(name, bits, tolerance=0, low_is_opaque=False, read_by="pydicom", values=None):
    values = seen_by_pydicom(name) if values is None else values
    expect(name, values, bits, read_by, tolerance, low_is_opaque)


def dcmtk(tool, source, name, *options):
    subprocess.run([tool, *options, source, OUT / name], check=True, capture_output=True)


def dicom():
    grey = {bits: pattern(bits) for bits in (8, 10, 12, 15, 16)}
    rgb = colour(8)

    # Uncompressed, every encoding of the data set.
    for label, syntax in (
        ("explicit", EXPLICIT),
        ("implicit", "1.2.840.10008.1.2"),
        ("deflated", "1.2.840.10008.1.2.1.99"),
    ):
        for bits in (8, 12, 16):
            name = f"{label}_{bits}.dcm"
            save(film(grey[bits], bits), name, syntax)
            check(name, bits)
    for bits in (8, 16):
        ds = film(grey[bits], bits)
        ds.PixelData = grey[bits].astype("u1" if bits == 8 else ">u2").tobytes()
        name = f"big_endian_{bits}.dcm"
        save(ds, name, "1.2.840.10008.1.2.2")
        check(name, bits)

    # Depths, high bits, signs, polarity.
    for bits in (10, 15):
        save(film(grey[bits], bits), f"stored_{bits}.dcm")
        check(f"stored_{bits}.dcm", bits)
    save(film(grey[12] | 0xA000, 12), "dirty_high_bits.dcm")
    check("dirty_high_bits.dcm", 12, read_by="the pattern itself", values=grey[12])
    ds = film(grey[12] << 4 | 5, 12)
    ds.HighBit = 15
    save(ds, "high_bit_15.dcm")
    check("high_bit_15.dcm", 12, read_by="the pattern itself", values=grey[12])
    save(film(grey[12], 12, photometric="MONOCHROME1"), "monochrome1.dcm")
    check("monochrome1.dcm", 12, low_is_opaque=True)
    for bits in (12, 16):
        name = f"signed_{bits}.dcm"
        save(film(grey[bits] - 2 ** (bits - 1), bits, signed=True), name)
        check(name, bits)
    save(
        film(grey[12] - 2048, 12, signed=True, RescaleSlope="0.5", RescaleIntercept="-100"),
        "signed_rescaled.dcm",
    )
    check("signed_rescaled.dcm", 12)

    # Colour of secondary captures.
    ds = film(rgb, 8, photometric="RGB")
    save(ds, "rgb.dcm")
    check("rgb.dcm", 8)
    ds = film(rgb, 8, photometric="RGB")
    ds.PlanarConfiguration = 1
    ds.PixelData = rgb.astype("u1").transpose(2, 0, 1).tobytes()
    save(ds, "rgb_by_plane.dcm")
    check("rgb_by_plane.dcm", 8)
    ybr = pydicom.pixels.convert_color_space(rgb.astype("u1"), "RGB", "YBR_FULL")
    save(film(ybr.astype(np.int64), 8, photometric="YBR_FULL"), "ybr_full.dcm")
    check("ybr_full.dcm", 8, tolerance=1, read_by="luma of the colours", values=luma(rgb))
    ds = film(ybr.astype(np.int64), 8, photometric="YBR_FULL_422")
    pairs = ybr.reshape(-1, 2, 3)
    ds.PixelData = np.stack(
        [pairs[:, 0, 0], pairs[:, 1, 0], pairs[:, 0, 1], pairs[:, 0, 2]], axis=-1
    ).astype("u1").tobytes()
    save(ds, "ybr_full_422.dcm")
    check("ybr_full_422.dcm", 8, tolerance=1, read_by="luma of the colours", values=luma(rgb))
    table = np.random.default_rng(5).integers(0, 65536, (3, 256))
    for bits in (8, 16):
        ds = film(grey[8], 8, photometric="PALETTE COLOR")
        entries = table >> (16 - bits)
        for channel, row in zip(("Red", "Green", "Blue"), entries):
            setattr(ds, f"{channel}PaletteColorLookupTableDescriptor", [256, 0, bits])
            data = row.astype("u1" if bits == 8 else "<u2").tobytes()
            setattr(ds, f"{channel}PaletteColorLookupTableData", data)
        save(ds, f"palette_{bits}.dcm")
        check(f"palette_{bits}.dcm", bits)

    # RLE.
    for name, ds, bits in (
        ("rle_8.dcm", film(grey[8], 8), 8),
        ("rle_12.dcm", film(grey[12], 12), 12),
        ("rle_16.dcm", film(grey[16], 16), 16),
        ("rle_signed_16.dcm", film(grey[16] - 32768, 16, signed=True), 16),
        ("rle_rgb.dcm", film(rgb, 8, photometric="RGB"), 8),
    ):
        ds.compress("1.2.840.10008.1.2.5", encoding_plugin="pylibjpeg", generate_instance_uid=False)
        save(ds, name)
        check(name, bits)

    with tempfile.TemporaryDirectory() as folder:
        sources = {}
        for label, ds in (
            ("8", film(grey[8], 8)),
            ("12", film(grey[12], 12)),
            ("16", film(grey[16], 16)),
            ("signed_16", film(grey[16] - 32768, 16, signed=True)),
            ("rgb", film(rgb, 8, photometric="RGB")),
        ):
            sources[label] = pathlib.Path(folder) / f"{label}.dcm"
            ds.save_as(sources[label], enforce_file_format=True)
        keep = ["--uid-never"]
        # JPEG baseline, and the 12-bit process that is not supported.
        dcmtk("dcmcjpeg", sources["8"], "jpeg_baseline_8.dcm", "+eb", "+q", "95", *keep)
        check("jpeg_baseline_8.dcm", 8, tolerance=1)
        dcmtk("dcmcjpeg", sources["rgb"], "jpeg_baseline_rgb.dcm", "+eb", "+q", "95", "+s4", *keep)
        check("jpeg_baseline_rgb.dcm", 8, tolerance=2)
        dcmtk("dcmcjpeg", sources["12"], "jpeg_extended_12.dcm", "+ee", "+q", "95", *keep)
        # JPEG lossless: first-order prediction, and every predictor.
        for label, bits in (("8", 8), ("12", 12), ("16", 16), ("signed_16", 16)):
            name = f"jpeg_lossless_{label}.dcm"
            dcmtk("dcmcjpeg", sources[label], name, "+e1", *keep)
            check(name, bits)
        dcmtk("dcmcjpeg", sources["rgb"], "jpeg_lossless_rgb.dcm", "+e1", *keep)
        check("jpeg_lossless_rgb.dcm", 8)
        for predictor in range(1, 8):
            name = f"jpeg_lossless_predictor{predictor}.dcm"
            dcmtk("dcmcjpeg", sources["16"], name, "+el", "+sv", str(predictor), *keep)
            check(name, 16)
        # JPEG-LS, read back by dcmtk.
        for label, bits in (("8", 8), ("12", 12), ("16", 16)):
            name = f"jpeg_ls_{label}.dcm"
            dcmtk("dcmcjpls", sources[label], name, "+el", *keep)
            check(name, bits, read_by="the pattern itself", values=grey[bits])
        dcmtk("dcmcjpls", sources["12"], "jpeg_ls_near_12.dcm", "+en", "+md", "5", *keep)
        plain = pathlib.Path(folder) / "near.dcm"
        subprocess.run(["dcmdjpls", OUT / "jpeg_ls_near_12.dcm", plain], check=True)
        check("jpeg_ls_near_12.dcm", 12, read_by="dcmtk", values=pydicom.dcmread(plain).pixel_array)

    # JPEG 2000; the encoder's six resolution levels need 32 px.
    grey = {bits: pattern(bits, shape=(32, 32)) for bits in (8, 12, 16)}
    rgb = colour(8, shape=(32, 32))
    for name, ds, bits in (
        ("jpeg2000_8.dcm", film(grey[8], 8), 8),
        ("jpeg2000_12.dcm", film(grey[12], 12), 12),
        ("jpeg2000_16.dcm", film(grey[16], 16), 16),
        ("jpeg2000_signed_16.dcm", film(grey[16] - 32768, 16, signed=True), 16),
        ("jpeg2000_signed_12.dcm", film(grey[12] - 2048, 12, signed=True), 12),
        ("jpeg2000_rgb.dcm", film(rgb, 8, photometric="RGB"), 8),
    ):
        ds.compress("1.2.840.10008.1.2.4.90", encoding_plugin="pylibjpeg", generate_instance_uid=False)
        save(ds, name)
        check(name, bits)
    ds = film(grey[12], 12)
    ds.compress(
        "1.2.840.10008.1.2.4.91", encoding_plugin="pylibjpeg", j2k_cr=[4], generate_instance_uid=False
    )
    save(ds, "jpeg2000_lossy_12.dcm")
    check("jpeg2000_lossy_12.dcm", 12, tolerance=2)

    # Two fragments for one frame.
    ds = film(grey[16], 16)
    ds.compress("1.2.840.10008.1.2.4.90", encoding_plugin="pylibjpeg", generate_instance_uid=False)
    frame = next(pydicom.encaps.generate_frames(ds.PixelData, number_of_frames=1))
    ds.PixelData = encapsulate([frame], fragments_per_frame=2, has_bot=False)
    save(ds, "jpeg2000_two_fragments.dcm")
    check("jpeg2000_two_fragments.dcm", 16)

    grey = {bits: pattern(bits) for bits in (8, 12)}

    # A frame whose own header is far larger than Rows and Columns.
    buffer = io.BytesIO()
    Image.fromarray(np.zeros((4096, 4096), np.uint8)).save(buffer, "JPEG", quality=1)
    header = bytearray(buffer.getvalue()[:700])
    ds = film(grey[8], 8)
    ds.PixelData = encapsulate([bytes(header)])
    save(ds, "inner_size_disagrees.dcm", "1.2.840.10008.1.2.4.50")

    # Several frames.
    ds = film(grey[8], 8, NumberOfFrames="3")
    ds.PixelData = grey[8].astype("u1").tobytes() * 3
    save(ds, "three_frames.dcm")

    # Everything about scale and windows.
    ds = film(
        grey[12],
        12,
        PixelSpacing=["0.0231", "0.0242"],
        PixelSpacingCalibrationType="GEOMETRY",
        PixelSpacingCalibrationDescription="ratio of distances",
        ImagerPixelSpacing=["0.02541", "0.02662"],
        NominalScannedPixelSpacing=["NaN", "0.02"],
        DetectorElementSpacing=["0", "0.02"],
        EstimatedRadiographicMagnificationFactor="1.1",
        DistanceSourceToDetector="330",
        DistanceSourceToPatient="300",
        WindowCenter=["2048", "1000.5", "7"],
        WindowWidth=["4096", "200", "0"],
        WindowCenterWidthExplanation=["WIDE", "NARROW", "BROKEN"],
        VOILUTFunction="SIGMOID",
    )
    device = Dataset()
    device.DeviceLength, device.DeviceDiameter = "21", "5"
    device.DeviceDiameterUnits, device.DeviceDescription = "MM", "steel ball on a rod"
    ds.DeviceSequence = [device]
    save(ds, "scale_facts.dcm")


def main():
    OUT.mkdir(parents=True, exist_ok=True)
    for old in OUT.iterdir():
        old.unlink()
    pictures()
    dicom()
    lines = [f"  {json.dumps(name)}: {json.dumps(EXPECTED[name])}" for name in sorted(EXPECTED)]
    (OUT / "expected.json").write_text("{\n" + ",\n".join(lines) + "\n}\n")
    total = sum(path.stat().st_size for path in OUT.iterdir())
    print(f"{len(list(OUT.iterdir()))} files, {total} bytes")


if __name__ == "__main__":
    main()
