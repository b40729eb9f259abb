#!/usr/bin/env python3
"""Trains the film reader of `src/assist/reader` and writes its weights.

    cargo run --release --example assist_films -- FOLDER &
    python3 tests/scripts/train_reader.py FOLDER OUT.bin --minutes 20

Needs PyTorch and a GPU; the program itself does not. Training starts with the
films that are there and takes in further ones while they are being rendered.
Only phantom films of the tuning set are seen, varied further by turns, scale,
tone curves, sharpening, noise of random spectra, random textures and opaque
shapes, none of which copies a kind of the test set.

Besides the film the net sees two planes of presses: one on the file that is
meant, two or more on the canal that is meant; without presses it shows all.

The weights are 16-bit floats, layer by layer in the order of `LAYERS`, with
the normalisation folded in: of each layer the weights (out, in, row, column),
then the biases.
"""

import argparse
import copy
import math
import os
import time

import numpy as np
import torch
import torch.nn as nn
import torch.nn.functional as F

SIDE, FILES, CANALS, LINE = 416, 4, 8, 48
FILE_LEN, CANAL_LEN = 7 + 2 * LINE, 4 + 2 * LINE
RECORD = 2 + FILES * FILE_LEN + CANALS * CANAL_LEN
WIDTHS = (24, 40, 64, 80, 96, 96)
# Standard deviation of the stamped places and lines, cells of 0.1 mm.
POINT_SIGMA, LINE_SIGMA, PRESS_SIGMA = (1.2, 1.2, 2.5), 1.0, 2.0


class Block(nn.Module):
    """Convolution and normalisation."""

    def __init__(self, inputs, outputs, size=3, stride=1):
        super().__init__()
        self.conv = nn.Conv2d(inputs, outputs, size, stride, size // 2, bias=False)
        self.norm = nn.BatchNorm2d(outputs)

    def forward(self, x):
        return self.norm(self.conv(x))

    def folded(self):
        gain = self.norm.weight / torch.sqrt(self.norm.running_var + self.norm.eps)
        weight = self.conv.weight * gain[:, None, None, None]
        return weight, self.norm.bias - self.norm.running_mean * gain


class Reader(nn.Module):
    """Every convolution but the last is followed by a rectifier, the joins of
    two levels too."""

    def __init__(self):
        super().__init__()
        a, b, c, d, e, f = WIDTHS
        self.l0a, self.l0b = Block(6, a), Block(a, a)
        self.l1a, self.l1b = Block(a, b, 3, 2), Block(b, b)
        self.l2a, self.l2b = Block(b, c, 3, 2), Block(c, c)
        self.l3a, self.l3b = Block(c, d, 3, 2), Block(d, d)
        self.l4a, self.l4b = Block(d, e, 3, 2), Block(e, e)
        self.l5a, self.l5b, self.l5c = Block(e, f, 3, 2), Block(f, f), Block(f, f)
        self.u4a, self.u4b = Block(f, e, 1), Block(e, e)
        self.u3a, self.u3b = Block(e, d, 1), Block(d, d)
        self.u2a, self.u2b = Block(d, c, 1), Block(c, c)
        self.u1a, self.u1b = Block(c, b, 1), Block(b, b)
        self.u0a, self.u0b = Block(b, a, 1), Block(a, a)
        self.h0, self.h1 = Block(a, a), nn.Conv2d(a, 5, 1)
        nn.init.constant_(self.h1.bias, -4.0)

    def forward(self, x):
        r = F.relu
        up = lambda t: F.interpolate(t, scale_factor=2, mode="nearest")
        s0 = r(self.l0b(r(self.l0a(x))))
        s1 = r(self.l1b(r(self.l1a(s0))))
        s2 = r(self.l2b(r(self.l2a(s1))))
        s3 = r(self.l3b(r(self.l3a(s2))))
        s4 = r(self.l4b(r(self.l4a(s3))))
        u = r(self.l5c(r(self.l5b(r(self.l5a(s4))))))
        u = r(self.u4b(r(up(self.u4a(u)) + s4)))
        u = r(self.u3b(r(up(self.u3a(u)) + s3)))
        u = r(self.u2b(r(up(self.u2a(u)) + s2)))
        u = r(self.u1b(r(up(self.u1a(u)) + s1)))
        u = r(self.u0b(r(up(self.u0a(u)) + s0)))
        return self.h1(r(self.h0(u)))


LAYERS = (
    "l0a l0b l1a l1b l2a l2b l3a l3b l4a l4b l5a l5b l5c "
    "u4a u4b u3a u3b u2a u2b u1a u1b u0a u0b h0 h1"
).split()


def layer_parts(net, name):
    layer = getattr(net, name)
    return layer.folded() if isinstance(layer, Block) else (layer.weight, layer.bias)


class Films:
    """The films rendered so far, on the GPU."""

    def __init__(self, folder, most):
        self.folder, self.most, self.count = folder, most, 0
        self.pixels = torch.zeros(most, 2 * SIDE, 2 * SIDE, dtype=torch.int16, device="cuda")
        self.truth = torch.zeros(most, RECORD, device="cuda")
        self.levels = torch.zeros(most, 2, device="cuda")

    def grow(self, at_most=512):
        film_bytes, record_bytes = 8 * SIDE**2, 4 * RECORD
        paths = [f"{self.folder}/films.i16", f"{self.folder}/truth.f32"]
        if not all(os.path.exists(p) for p in paths):
            return False
        whole = min(
            os.path.getsize(paths[0]) // film_bytes,
            os.path.getsize(paths[1]) // record_bytes,
            self.most,
        )
        take = min(whole - self.count, at_most)
        if take <= 0:
            return False
        films = np.fromfile(paths[0], np.int16, take * 4 * SIDE**2, offset=self.count * film_bytes)
        truth = np.fromfile(paths[1], np.float32, take * RECORD, offset=self.count * record_bytes)
        films = films.reshape(take, 2 * SIDE, 2 * SIDE)
        truth = truth.reshape(take, RECORD)
        here = slice(self.count, self.count + take)
        self.pixels[here] = torch.from_numpy(films).cuda()
        self.truth[here] = torch.from_numpy(truth).cuda()
        levels = []
        for film, (w, h) in zip(films, truth[:, :2].astype(int)):
            values = film[: 2 * h : 5, : 2 * w : 3].astype(np.float32) / 32767
            levels.append(np.quantile(values, (0.05, 0.95)))
        self.levels[here] = torch.tensor(np.array(levels), dtype=torch.float32).cuda()
        self.count += take
        return True


def line_d2(cells, lines):
    """Squared distances (lines, cells) from cells (n, 2) to polylines (m, k, 2)."""
    a, b = lines[:, :-1], lines[:, 1:]
    d = b - a
    length2 = (d * d).sum(-1).clamp(min=1e-6)
    px, py = cells[:, 0][None, :, None], cells[:, 1][None, :, None]
    qx, qy = px - a[:, None, :, 0], py - a[:, None, :, 1]
    dx, dy = d[:, None, :, 0], d[:, None, :, 1]
    t = ((qx * dx + qy * dy) / length2[:, None]).clamp(0, 1)
    ex, ey = qx - t * dx, qy - t * dy
    return (ex * ex + ey * ey).amin(-1)


line_d2 = torch.compile(line_d2, dynamic=True)


def uniform(low, high, *shape):
    return torch.empty(shape, device="cuda").uniform_(low, high)


def chosen(p, n):
    """1 for each of n with probability p."""
    return (torch.rand(n, device="cuda") < p).float()


def spectra(n, size, scale, most_stretch):
    """Gaussian fields (n, size, size) of deviation 1: white noise blurred over
    `scale` (a range of cells), stretched in a random direction."""
    field = torch.randn(n, size, size, device="cuda")
    f = torch.fft.rfft2(field)
    fy = torch.fft.fftfreq(size, device="cuda")[None, :, None]
    fx = torch.fft.rfftfreq(size, device="cuda")[None, None, :]
    sigma = torch.exp(uniform(math.log(scale[0]), math.log(scale[1]), n, 1, 1))
    stretch = torch.exp(uniform(0, math.log(most_stretch), n, 1, 1))
    angle = uniform(0, math.pi, n, 1, 1)
    u, v = fx * torch.cos(angle) + fy * torch.sin(angle), fy * torch.cos(angle) - fx * torch.sin(angle)
    gain = torch.exp(-2 * math.pi**2 * sigma**2 * ((u * stretch) ** 2 + v**2))
    out = torch.fft.irfft2(f * gain, s=(size, size))
    out = out - out.mean((1, 2), keepdim=True)
    return out / out.std((1, 2), keepdim=True).clamp(min=1e-6)


def textures(n, size):
    """Fields of several characters: smooth, ridged, walled, patchy."""
    a, b = spectra(n, size, (2, 25), 6), spectra(n, size, (2, 25), 6)
    kinds = torch.stack([a, 0.8 - a.abs() * 1.3, 1 - (3 * a.abs()).clamp(max=2.0), torch.tanh(3 * a), a * b])
    pick = torch.randint(0, len(kinds), (n,), device="cuda")
    return kinds[pick, torch.arange(n, device="cuda")]


def blurred(x, sigma):
    """x (n, size, size) blurred by each sample's sigma (n)."""
    size = x.shape[-1]
    f = torch.fft.rfft2(F.pad(x[:, None], (8, 8, 8, 8), mode="replicate")[:, 0])
    fy = torch.fft.fftfreq(size + 16, device="cuda")[None, :, None]
    fx = torch.fft.rfftfreq(size + 16, device="cuda")[None, None, :]
    gain = torch.exp(-2 * math.pi**2 * sigma[:, None, None] ** 2 * (fx**2 + fy**2))
    return torch.fft.irfft2(f * gain, s=(size + 16, size + 16))[:, 8:-8, 8:-8]


def shapes(n, size):
    """Coverage (n, size, size), 0 to 1, of random strokes, rings and boxes."""
    y, x = torch.meshgrid(*[torch.arange(size, device="cuda") + 0.5] * 2, indexing="ij")
    total = torch.zeros(n, size, size, device="cuda")
    for _ in range(3):
        cx, cy, angle = uniform(0, size, n, 1, 1), uniform(0, size, n, 1, 1), uniform(0, math.pi, n, 1, 1)
        u = (x - cx) * torch.cos(angle) + (y - cy) * torch.sin(angle)
        v = (y - cy) * torch.cos(angle) - (x - cx) * torch.sin(angle)
        long = torch.exp(uniform(math.log(12), math.log(160), n, 1, 1))
        thick = torch.exp(uniform(math.log(4), math.log(30), n, 1, 1))
        v = v + uniform(-0.004, 0.004, n, 1, 1) * u * u
        stroke = torch.hypot((u.abs() - long).clamp(min=0), v) - thick
        ring = (torch.hypot(u, v) - long * 0.7).abs() - thick * 0.6
        wide = torch.exp(uniform(math.log(10), math.log(70), n, 1, 1))
        box = torch.maximum(u.abs() - long * 0.6, v.abs() - wide)
        kind = torch.randint(0, 3, (n, 1, 1), device="cuda")
        d = torch.where(kind == 0, stroke, torch.where(kind == 1, ring, box))
        cover = (0.5 - d / uniform(1, 6, n, 1, 1)).clamp(0, 1) * chosen(0.5, n)[:, None, None]
        total = torch.maximum(total, cover)
    return total


def tone(x, levels, n):
    """A random rising curve of 7 straight pieces for some samples."""
    steps = torch.exp(uniform(-1.1, 1.1, n, 7))
    steps = torch.where(chosen(0.6, n)[:, None] > 0, steps, torch.ones_like(steps))
    knots = torch.cat([torch.zeros(n, 1, device="cuda"), steps.cumsum(1)], 1)
    knots = knots / knots[:, -1:]
    gamma = torch.exp(uniform(-0.4, 0.4, n, 1))

    def curve(v):
        t = v.clamp(1e-4, 1) ** gamma * 7
        k = t.long().clamp(0, 6)
        low, high = knots.gather(1, k), knots.gather(1, k + 1)
        return low + (t - k) * (high - low)

    return curve(x.flatten(1)).view_as(x), curve(levels)


def press_map(cells, presses, n, crop):
    """Gaussians at presses (n, k, 2); absent ones lie far off."""
    d2 = ((cells[None, :, None] - presses[:, None]) ** 2).sum(-1)
    return torch.exp(-0.5 * d2.amin(-1) / PRESS_SIGMA**2).view(n, crop, crop)


def batch(films, index, crop, augment):
    """Input (n, 6, crop, crop), wanted maps and masks (n, 5, crop, crop)."""
    n = len(index)
    index = torch.as_tensor(index, device="cuda")
    truth = films.truth[index]
    size = truth[:, :2]
    half = crop / 2
    # Crop's place: a turn and a scale about a centre, cells of 0.1 mm.
    if augment:
        quarter = torch.randint(0, 4, (n,), device="cuda") * (math.pi / 2)
        free = chosen(0.55, n)
        angle = quarter + free * uniform(-0.7, 0.7, n)
        scale = torch.exp(free * uniform(-0.12, 0.12, n))
        mirror = 1 - 2 * chosen(0.5, n)
        room = (size - crop).clamp(min=0)
        centre = size / 2 + room * (torch.rand(n, 2, device="cuda") - 0.5)
        # Whole cells where the film is not turned freely.
        centre = torch.where(free[:, None] > 0, centre, centre.round())
    else:
        angle, scale, mirror = (torch.zeros(n, device="cuda"), torch.ones(n, device="cuda"), torch.ones(n, device="cuda"))
        centre = torch.full((n, 2), half, device="cuda")
    cos, sin = torch.cos(angle) * scale, torch.sin(angle) * scale
    # film = centre + M (crop - half)
    m = torch.stack([torch.stack([cos * mirror, -sin], -1), torch.stack([sin * mirror, cos], -1)], 1)
    grid_y, grid_x = torch.meshgrid(*[torch.arange(2 * crop, device="cuda") + 0.5] * 2, indexing="ij")
    fine = torch.stack([grid_x, grid_y], -1).view(-1, 2) / 2 - half
    places = centre[:, None] + fine @ m.transpose(1, 2)
    inside = ((places > 0) & (places < size[:, None])).all(-1).view(n, 2 * crop, 2 * crop)
    grid = (places / SIDE * 2 - 1).view(n, 2 * crop, 2 * crop, 2)
    whole = films.pixels[index].float()[:, None] / 32767
    x = F.grid_sample(whole, grid, mode="bilinear", align_corners=False)[:, 0]
    levels = films.levels[index]

    covered = torch.zeros_like(x)
    if augment:
        range_ = (levels[:, 1] - levels[:, 0]).clamp(min=0.05)[:, None, None]
        strength = (chosen(0.45, n) * uniform(0, 0.11, n))[:, None, None]
        patch = torch.sigmoid(2 * spectra(n, 2 * crop, (30, 80), 1.5))
        x = x + strength * range_ * patch * textures(n, 2 * crop)
        cover = shapes(n, 2 * crop) * chosen(0.35, n)[:, None, None]
        opaque = uniform(0.25, 1.0, n, 1, 1)
        white = uniform(0.7, 1.0, n, 1, 1)
        x = x + cover * opaque * (torch.maximum(x, white) - x)
        covered = cover * opaque
        x, levels = tone(x, levels, n)
        range_ = (levels[:, 1] - levels[:, 0]).clamp(min=0.05)[:, None, None]
        share = (chosen(0.4, n) * uniform(-0.9, 2.0, n))[:, None, None]
        x = x + share * (x - blurred(x, torch.exp(uniform(-0.5, 1.4, n))))
        grain = (chosen(0.5, n) * torch.exp(uniform(-6, -3.9, n)))[:, None, None]
        x = x + grain * spectra(n, 2 * crop, (0.4, 4), 40)
        x = x + uniform(0, 0.012, n, 1, 1) * torch.randn_like(x)
        x = x.clamp(0, 1)
        levels = levels + range_[:, 0] * uniform(-0.04, 0.04, n, 2)

    low, high = levels[:, 0, None, None], levels[:, 1, None, None]
    x = ((x - low) / (high - low).clamp(min=0.02) * 2 - 1).clamp(-2.5, 2.5) * inside
    planes = F.pixel_unshuffle(x[:, None], 2)
    mask = F.avg_pool2d(inside[:, None].float(), 2)[:, 0].floor()
    covered = F.max_pool2d(covered[:, None], 2)[:, 0]

    # Truth into the crop's cells: crop = half + M^-1 (film - centre).
    inverse = torch.linalg.inv(m)
    to_crop = lambda p: half + (p - centre.view(n, *[1] * (p.dim() - 2), 2)).view(n, -1, 2).matmul(
        inverse.transpose(1, 2)
    ).view_as(p)
    f = truth[:, 2 : 2 + FILES * FILE_LEN].view(n, FILES, FILE_LEN)
    c = truth[:, 2 + FILES * FILE_LEN :].view(n, CANALS, CANAL_LEN)
    file_there, canal_there = f[..., 0] > 0, c[..., 0] > 0
    tips, tip_shown = to_crop(f[..., 1:3]), f[..., 3] > 0
    stops, stop_share = to_crop(f[..., 4:6]), f[..., 6]
    file_lines = to_crop(f[..., 7:].reshape(n, FILES, LINE, 2))
    apices, apex_shown = to_crop(c[..., 1:3]), c[..., 3] > 0
    canal_lines = to_crop(c[..., 4:].reshape(n, CANALS, LINE, 2))
    gy, gx = torch.meshgrid(*[torch.arange(crop, device="cuda") + 0.5] * 2, indexing="ij")
    cells = torch.stack([gx, gy], -1).view(-1, 2)

    far = 1e4
    in_crop = lambda p: ((p > 2) & (p < crop - 2)).all(-1)
    # Presses.
    file_press = torch.full((n, 1, 2), -far, device="cuda")
    canal_press = torch.full((n, 3, 2), -far, device="cuda")
    file_on, canal_on = file_there.clone(), canal_there.clone()
    turn = torch.rand(n, device="cuda")
    row = torch.arange(n, device="cuda")
    # One file of those that lie in the crop.
    at = (uniform(0.08, 0.97, n) * (LINE - 1)).long()
    spot = file_lines[row, :, at]
    fits = file_there & in_crop(spot)
    pick = (torch.rand(n, FILES, device="cuda") + fits.float() * 2).argmax(1)
    place = spot[row, pick] + 1.2 * torch.randn(n, 2, device="cuda").clamp(-2, 2)
    near = ((file_lines - place[:, None, None]) ** 2).sum(-1).amin(-1)
    near = torch.where(file_there, near, torch.full_like(near, far))
    other = near.scatter(1, pick[:, None], far).amin(1)
    meant = (turn < 0.38) & fits[row, pick] & (other > 4.0**2)
    file_press[meant, 0] = place[meant]
    only = F.one_hot(pick, FILES).bool()
    file_on = torch.where(meant[:, None], file_on & only, file_on)
    # A press where no file runs.
    if augment:
        at = (torch.rand(n, device="cuda") * (LINE - 1)).long()
        of = torch.randint(0, 4, (n,), device="cuda")
        void = canal_lines[row, of, at] + 1.5 * torch.randn(n, 2, device="cuda")
        void = torch.where((torch.rand(n, device="cuda") < 0.4)[:, None], uniform(4, crop - 4, n, 2), void)
        near = ((file_lines - void[:, None, None]) ** 2).sum(-1).amin(-1)
        near = torch.where(file_there, near, torch.full_like(near, far)).amin(1)
        empty = (turn > 0.93) & (near > 8.0**2) & in_crop(void)
        file_press[empty, 0] = void[empty]
        file_on = torch.where(empty[:, None], torch.zeros_like(file_on), file_on)
    # One canal with both ends in the crop.
    ends = torch.stack([uniform(0, 0.12, n), uniform(0.85, 1, n), torch.rand(n, device="cuda")], 1)
    ends = (ends * (LINE - 1)).round().long()
    spots = canal_lines.gather(2, ends[:, None, :, None].expand(n, CANALS, 3, 2))
    fits = canal_there & in_crop(spots[:, :, :2]).all(-1)
    pick = (torch.rand(n, CANALS, device="cuda") + fits.float() * 2).argmax(1)
    meant = (turn > 0.6) & (turn < 0.93) & fits[row, pick]
    jitter = 1.2 * torch.randn(n, 3, 2, device="cuda").clamp(-2, 2)
    spots = spots[row, pick] + jitter
    spots[:, 2] = torch.where((torch.rand(n, device="cuda") < 0.3)[:, None], spots[:, 2], torch.full_like(spots[:, 2], -far))
    canal_press[meant] = spots[meant]
    only = F.one_hot(pick, CANALS).bool()
    canal_on = torch.where(meant[:, None], canal_on & only, canal_on)

    def lines_map(lines, on):
        out = torch.zeros(n, crop * crop, device="cuda")
        which = on.nonzero()
        if len(which):
            d2 = line_d2(cells, lines[which[:, 0], which[:, 1]].contiguous())
            value = torch.exp(-0.5 * d2 / LINE_SIGMA**2)
            out = out.scatter_reduce(0, which[:, :1].expand_as(value), value, "amax")
        return out.view(n, crop, crop)

    def points_map(points, on, sigma):
        d2 = ((cells[None, :, None] - points[:, None]) ** 2).sum(-1)
        d2 = torch.where(on[:, None], d2, torch.full_like(d2, 1e8)).amin(-1)
        return torch.exp(-0.5 * d2 / sigma**2).view(n, crop, crop)

    want = torch.stack(
        [
            lines_map(file_lines, file_on),
            points_map(tips, file_on & tip_shown, POINT_SIGMA[0]),
            points_map(stops, file_on & (stop_share > 0.6), POINT_SIGMA[1]),
            points_map(apices, apex_shown & canal_there, POINT_SIGMA[2]),
            lines_map(canal_lines, canal_on),
        ],
        1,
    )
    masks = mask[:, None].repeat(1, 5, 1, 1)
    doubtful = points_map(stops, file_on & (stop_share > 0) & (stop_share <= 0.6), 8.0)
    masks[:, 2] *= (doubtful < 0.05).float()
    # Nothing is asked where a shape hides a place.
    hidden = F.max_pool2d(covered[:, None], 9, 1, 4)[:, 0] > 0.55
    for k in (1, 2, 3):
        masks[:, k] *= ~(hidden & (want[:, k] > 0.02))
    presses = [press_map(cells, p, n, crop)[:, None] for p in (file_press, canal_press)]
    return torch.cat([planes, *presses], 1), want, masks


def loss_of(logits, want, masks):
    logits = logits.float()
    total = 0.0
    bce = F.binary_cross_entropy_with_logits(logits, want, reduction="none")
    q = torch.sigmoid(logits)
    for k, point in enumerate((False, True, True, True, False)):
        t, p, m = want[:, k], q[:, k], masks[:, k]
        if point:
            sigma = POINT_SIGMA[k - 1]
            count = (t * m).sum() / (2 * math.pi * sigma**2)
            sum_ = ((t - p).abs() ** 1.5 * bce[:, k] * m).sum()
            total = total + (1.5 if k == 3 else 3.0) / sigma**2 * sum_ / (count + 3)
        else:
            total = total + 8 * (bce[:, k] * (1 + 4 * t) * m).sum() / m.sum()
            both = (p * t * m).sum((1, 2))
            dice = 1 - (2 * both + 1) / ((p * p * m).sum((1, 2)) + (t * t * m).sum((1, 2)) + 1)
            total = total + 0.7 * dice.mean()
    return total


def examined(net, films, held):
    """What the net finds on held-out tuning films, with a press on one file."""
    hits = {k: [0, 0] for k in ("tip", "stop", "false stop", "apex", "canal")}
    losses = []

    def count(name, right, of):
        hits[name][0] += int(right.sum())
        hits[name][1] += int(of.sum())

    torch.manual_seed(5)
    for k in range(0, held, 16):
        index = np.arange(k, min(held, k + 16))
        x, t, m = batch(films, index, SIDE, False)
        with torch.autocast("cuda", torch.bfloat16):
            logits = net(x.contiguous(memory_format=torch.channels_last))
        losses.append(loss_of(logits, t, m).item())
        p, t = torch.sigmoid(logits.float()).flatten(2), t.flatten(2)
        place = lambda i: torch.stack([i % SIDE, i // SIDE], -1).float()
        pressed = x[:, 4].amax((1, 2)) > 0.5
        for name, plane, reach in (("tip", 1, 1.5), ("stop", 2, 2.0)):
            shown = (t[:, plane].amax(-1) > 0.8) & pressed
            off = (place(p[:, plane].argmax(-1)) - place(t[:, plane].argmax(-1))).norm(dim=-1)
            sure = p[:, plane].amax(-1) > (0.1 if plane == 1 else 0.5)
            count(name, (off <= reach) & sure & shown, shown)
        none = (t[:, 2].amax(-1) < 0.2) & pressed & (m[:, 2].flatten(1) > 0).any(-1)
        count("false stop", (p[:, 2].amax(-1) > 0.5) & none, none)
        ends = (t[:, 3] > 0.97).float()
        close = F.max_pool2d(p[:, 3].view(-1, 1, SIDE, SIDE), 9, 1, 4).flatten(1)
        count("apex", (close > 0.3).float() * ends, ends)
        lines = (t[:, 4] > 0.9).float()
        count("canal", (p[:, 4] > 0.4).float() * lines, lines)
    shares = "  ".join(f"{k} {100 * a / max(1, b):.1f} % of {b}" for k, (a, b) in hits.items())
    return f"loss {np.mean(losses):.3f}  {shares}"


def main():
    parser = argparse.ArgumentParser()
    parser.add_argument("folder")
    parser.add_argument("out")
    parser.add_argument("--minutes", type=float, default=20.0)
    parser.add_argument("--films", type=int, default=24000)
    parser.add_argument("--batch", type=int, default=40)
    parser.add_argument("--crop", type=int, default=256)
    parser.add_argument("--held", type=int, default=128)
    args = parser.parse_args()
    torch.manual_seed(1)
    torch.backends.cudnn.benchmark = True
    torch.set_float32_matmul_precision("high")
    films = Films(args.folder, args.films)
    start = time.time()
    while films.count < args.held + 256:
        if not films.grow():
            time.sleep(1)
    print(f"{films.count} films after {time.time() - start:.0f} s", flush=True)
    rng = np.random.default_rng(1)
    net = Reader().cuda().to(memory_format=torch.channels_last)
    print(f"{sum(p.numel() for p in net.parameters())} parameters", flush=True)
    slow = copy.deepcopy(net).eval()
    optimiser = torch.optim.AdamW(net.parameters(), lr=2e-3, weight_decay=2e-4)
    start, step, last, seen = time.time(), 0, 0.0, 0.0
    average = 0.0
    while (share := (time.time() - start) / (60 * args.minutes)) < 1:
        rate = 3e-3 * min(1.0, step / 300) * (0.5 + 0.5 * math.cos(math.pi * share)) + 1e-6
        for group in optimiser.param_groups:
            group["lr"] = rate
        if step % 50 == 0:
            films.grow(256)
        index = rng.integers(args.held, films.count, args.batch)
        with torch.no_grad():
            x, t, m = batch(films, index, args.crop, True)
        with torch.autocast("cuda", torch.bfloat16):
            logits = net(x.contiguous(memory_format=torch.channels_last))
        loss = loss_of(logits, t, m)
        optimiser.zero_grad(set_to_none=True)
        loss.backward()
        nn.utils.clip_grad_norm_(net.parameters(), 5.0)
        optimiser.step()
        step += 1
        keep = min(0.999, step / (step + 20))
        with torch.no_grad():
            for a, b in zip(slow.state_dict().values(), net.state_dict().values()):
                if a.dtype.is_floating_point:
                    a.lerp_(b, 1 - keep)
                else:
                    a.copy_(b)
        if step % 50 == 1:
            average = loss.item() if step == 1 else 0.8 * average + 0.2 * loss.item()
        if time.time() - last > 20:
            last = time.time()
            print(f"{last - start:5.0f} s  step {step}  films {films.count}  loss {average:.3f}", flush=True)
        if time.time() - start - seen > 150:
            seen = time.time() - start
            with torch.no_grad():
                print(f"  held out: {examined(slow, films, args.held)}", flush=True)
            write(slow, films, args.out)
    with torch.no_grad():
        print(f"  held out: {examined(slow, films, args.held)} after {step} steps", flush=True)
    write(slow, films, args.out)
    print("done", flush=True)


def write(net, films, path):
    """The weights, and a check for the program: input and maps of one film."""
    with torch.no_grad():
        with open(path + ".part", "wb") as out:
            for name in LAYERS:
                for part in layer_parts(net, name):
                    out.write(part.float().contiguous().cpu().numpy().astype("<f2").tobytes())
        os.replace(path + ".part", path)
        x, _, _ = batch(films, np.arange(1), 64, False)
        x[:, 4:] = 0
        x[0, 4, 20:24, 30:34] = 1
        torch.backends.cuda.matmul.allow_tf32 = torch.backends.cudnn.allow_tf32 = False
        halved = copy.deepcopy(net)
        for name in LAYERS:
            layer = getattr(halved, name)
            weight, bias = (p.half().float() for p in layer_parts(net, name))
            conv = layer.conv if isinstance(layer, Block) else layer
            conv.weight.data = weight.contiguous()
            conv.bias = nn.Parameter(bias)
            if isinstance(layer, Block):
                layer.norm = nn.Identity()
        maps = halved(x)
        torch.backends.cuda.matmul.allow_tf32 = torch.backends.cudnn.allow_tf32 = True
        numbers = np.concatenate([x.cpu().numpy().ravel(), maps.cpu().numpy().ravel()])
        numbers.astype("<f4").tofile(path + ".check")


if __name__ == "__main__":
    main()
