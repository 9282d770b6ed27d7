from __future__ import annotations

import subprocess
import sys
import time

import numpy as np
import pytest
from PIL import ExifTags, Image

from skyview.errors import InputError
from skyview.photo.pixels import read_pixels

RED, BLUE = (230, 20, 20), (20, 20, 230)


def marked_corner() -> Image.Image:
    """Red in the top-left eighth, blue elsewhere."""
    image = Image.new("RGB", (64, 48), BLUE)
    image.paste(RED, (0, 0, 16, 16))
    return image


@pytest.mark.parametrize("name", ["a.jpg", "a.png", "a.tif", "a.webp"])
@pytest.mark.parametrize("max_side_px", [None, 32])
@pytest.mark.parametrize(
    ("orientation", "corner"),
    # Where the stored first row and first column lie in the scene: Exif 2.32, tag Orientation.
    [
        (1, "top left"),
        (2, "top right"),
        (3, "bottom right"),
        (4, "bottom left"),
        (5, "top left"),
        (6, "top right"),
        (7, "bottom right"),
        (8, "bottom left"),
    ],
)
def test_marked_corner_lands_where_it_must(
    save, name: str, max_side_px: int | None, orientation: int, corner: str
) -> None:
    path = save(name, image=marked_corner(), main={ExifTags.Base.Orientation: orientation})
    pixels = read_pixels(path, max_side_px)
    shape = (48, 64) if orientation < 5 else (64, 48)
    if max_side_px:
        shape = (shape[0] // 2, shape[1] // 2)
    assert pixels.shape == (*shape, 3)
    assert pixels.dtype == np.uint8
    assert pixels.flags.c_contiguous
    rows = {"top": 3, "bottom": -4}
    columns = {"left": 3, "right": -4}
    for row in rows:
        for column in columns:
            colour = pixels[rows[row], columns[column]].astype(int)
            expected = RED if f"{row} {column}" == corner else BLUE
            assert np.abs(colour - expected).max() < 40, (row, column)


def test_transpose_differs_from_a_turn(save) -> None:
    """Orientation 5 and 1 share the marked corner: tell them by a mark on the first row."""
    image = marked_corner()
    image.paste(RED, (0, 0, 64, 8))
    pixels = read_pixels(save("a.png", image=image, main={ExifTags.Base.Orientation: 5}))
    assert tuple(pixels[60, 2]) == RED
    assert tuple(pixels[2, 45]) == BLUE


def grey(values: np.ndarray) -> Image.Image:
    return Image.fromarray(values)


@pytest.mark.parametrize(
    ("name", "image", "expected"),
    [
        ("bw.png", Image.new("1", (4, 3), 1), (255, 255, 255)),
        ("l.png", Image.new("L", (4, 3), 77), (77, 77, 77)),
        ("la.png", Image.new("LA", (4, 3), (0, 0)), (255, 255, 255)),
        ("rgba.png", Image.new("RGBA", (4, 3), (255, 0, 0, 0)), (255, 255, 255)),
        ("half.png", Image.new("RGBA", (4, 3), (0, 0, 0, 128)), (127, 127, 127)),
        ("rgba.webp", Image.new("RGBA", (4, 3), (9, 9, 9, 0)), (255, 255, 255)),
        ("cmyk.tif", Image.new("CMYK", (4, 3), (0, 255, 255, 0)), (255, 0, 0)),
        ("cmyk.jpg", Image.new("CMYK", (4, 3), (0, 0, 0, 255)), (0, 0, 0)),
        ("g16.png", grey(np.full((3, 4), 32896, np.uint16)), (128, 128, 128)),
        ("g16.tif", grey(np.full((3, 4), 65535, np.uint16)), (255, 255, 255)),
        ("i32.tif", grey(np.full((3, 4), 257, np.int32)), (1, 1, 1)),
        ("f01.tif", grey(np.full((3, 4), 0.5, np.float32)), (128, 128, 128)),
        ("f255.tif", grey(np.full((3, 4), 200.0, np.float32)), (200, 200, 200)),
        ("nan.tif", grey(np.full((3, 4), np.nan, np.float32)), (0, 0, 0)),
    ],
)
@pytest.mark.parametrize("max_side_px", [None, 2])
def test_every_mode_becomes_rgb(save, name: str, image, expected, max_side_px) -> None:
    pixels = read_pixels(save(name, image=image), max_side_px)
    assert pixels.shape == ((3, 4, 3) if max_side_px is None else (2, 2, 3))
    assert np.abs(pixels.astype(int) - expected).max() <= 1


def test_floats_beyond_usual_ranges_span_their_own(save) -> None:
    values = np.array([[-5.0, 0.0], [5.0, np.inf]], np.float32)
    pixels = read_pixels(save("dem.tif", image=grey(values)))
    assert pixels[..., 0].tolist() == [[0, 128], [255, 255]]


def test_dark_16_bit_png_stays_dark(save) -> None:
    pixels = read_pixels(save("night.png", image=grey(np.full((3, 4), 200, np.uint16))))
    assert pixels.max() == 1


def test_palette_with_a_transparent_colour(save) -> None:
    image = Image.new("P", (4, 3), 1)
    image.putpalette([0, 0, 0, 10, 20, 30])
    image.putpixel((0, 0), 0)
    pixels = read_pixels(save("pal.png", image=image, transparency=0))
    assert pixels[0, 0].tolist() == [255, 255, 255]
    assert pixels[2, 3].tolist() == [10, 20, 30]


@pytest.mark.parametrize("name", ["moving.webp", "moving.gif", "moving.png", "pages.tif"])
def test_first_frame_of_several(save, name: str) -> None:
    first, second = Image.new("RGB", (32, 24), RED), Image.new("RGB", (32, 24), BLUE)
    pixels = read_pixels(save(name, image=first, save_all=True, append_images=[second]))
    assert np.abs(pixels.astype(int) - RED).max() < 12


@pytest.mark.parametrize("size", [(1, 100_000), (100_000, 1)])
def test_threadlike_pictures(save, size: tuple[int, int]) -> None:
    path = save("thread.png", size=size)
    start = time.process_time()
    assert read_pixels(path).shape == (size[1], size[0], 3)
    small = read_pixels(path, 1000)
    assert sorted(small.shape[:2]) == [1, 1000]
    assert time.process_time() - start < 2.0


@pytest.mark.parametrize("name", ["a.jpg", "a.png"])
@pytest.mark.parametrize("size", [(1001, 667), (667, 1001), (1024, 768)])
@pytest.mark.parametrize("max_side_px", [2000, 500, 100, 33])
def test_shrinking_keeps_every_place(save, name: str, size, max_side_px: int) -> None:
    """A ramp stays a ramp: each pixel has the brightness of its own middle."""
    width, height = size
    dither = np.random.default_rng(3).random((height, width))
    ramp = np.floor(np.linspace(5, 245, width) + 8 * dither).astype(np.uint8)
    path = save(name, image=Image.fromarray(ramp), quality=98)
    pixels = read_pixels(path, max_side_px)
    shown = pixels.shape[1]
    assert max(pixels.shape[:2]) == min(max_side_px, max(size))
    middles = (np.arange(shown) + 0.5) / shown * width - 0.5
    expected = 5 + middles / (width - 1) * 240 + 3.5
    inner = slice(shown // 8, -shown // 8)
    error = (pixels[..., 0].astype(float).mean(axis=0) - expected)[inner]
    twentieth_of_a_pixel, rounding = 240 / shown / 20, 0.05
    assert abs(error.mean()) < twentieth_of_a_pixel + rounding


@pytest.mark.parametrize("max_side_px", [0, -5])
def test_impossible_side_is_refused(save, max_side_px: int) -> None:
    with pytest.raises(InputError, match="give 1 or more"):
        read_pixels(save(), max_side_px)


MEASURE = """
import sys
from skyview.photo.pixels import read_pixels
def highest():
    lines = open("/proc/self/status").read().splitlines()
    return 1024 * next(int(line.split()[1]) for line in lines if line.startswith("VmHWM"))
read_pixels(sys.argv[2])
start = highest()
read_pixels(sys.argv[1], 1000)
shrunk = highest()
size = read_pixels(sys.argv[1]).nbytes
print(shrunk - start, highest() - start, size)
"""


@pytest.mark.skipif(sys.platform != "linux", reason="reads the high-water mark under /proc")
@pytest.mark.parametrize(
    ("size", "options"),
    [
        pytest.param((4000, 3000), {}, id="12 megapixels"),
        pytest.param((8192, 6144), {}, id="50 megapixels", marks=pytest.mark.slow),
        pytest.param((8192, 6144), {"progressive": True}, id="progressive", marks=pytest.mark.slow),
    ],
)
def test_peak_memory(save, size: tuple[int, int], options: dict) -> None:
    """Under six times the decoded size; a shrunk JPEG takes far less."""
    small = save("small.jpg")
    large = save("large.jpg", size=size, main={ExifTags.Base.Orientation: 6}, **options)
    command = [sys.executable, "-c", MEASURE, str(large), str(small)]
    output = subprocess.run(command, capture_output=True, text=True, check=True).stdout
    shrunk, whole, decoded = map(int, output.split())
    assert decoded == 3 * size[0] * size[1]
    assert decoded < whole < 6 * decoded
    assert shrunk < (1.5 if options else 1) * decoded


@pytest.mark.parametrize(
    "size",
    [(4000, 3000), pytest.param((8192, 6144), marks=pytest.mark.slow)],
    ids=["12 megapixels", "50 megapixels"],
)
def test_large_pictures_shrink_within_two_seconds(save, size: tuple[int, int]) -> None:
    path = save("large.jpg", size=size)
    start = time.process_time()
    assert max(read_pixels(path, 2048).shape) == 2048
    assert time.process_time() - start < 2.0
