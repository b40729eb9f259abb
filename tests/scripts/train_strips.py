#!/usr/bin/env python3
"""Trains a filter of `src/assist/strip` and writes its weights.

    cargo run --release --example assist_strips -- FOLDER --films 9000 &
    python3 tests/scripts/train_strips.py tip FOLDER OUT.bin --minutes 7
    python3 tests/scripts/train_strips.py stop FOLDER OUT.bin --minutes 5
    python3 tests/scripts/train_strips.py course FOLDER OUT.bin --minutes 3

Needs PyTorch and a GPU; the program itself does not. Only strips of phantom
films of the tuning set are seen, varied further: the strip is moved along the
file so that its end lies anywhere, bent and shifted aside as a line that was
not quite found, drawn over with bodies and lines that end anywhere, textured,
blurred, sharpened, given noise of random spectra and random tone curves. On
canals without a file one is drawn, which ends anywhere too.

The answer is a share for each row (the end lies there) and for two further
cases: no file on this strip, and a file that runs on beyond it.

A course is the film along a whole line that the assistant takes a press for, on
films with several files, with the press marked; the answer is how surely the
file that was pressed runs along it to its stop, and to its tip. It takes the
place of the two further cases; the rows say nothing.

The weights are 16-bit floats, layer by layer, with the normalisation folded
in: of each layer the weights (out, in, row, column), then the biases.
`--without CODE` keeps strips of a kind of bone (0–2), stop (10–13) or the
octave noise (20) out of training and measures on them; without it, the first
strips are held back and measured on, kind by kind too.
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

from train_reader import chosen, spectra, textures, tone, uniform

LONG, WIDE = 540, 56  # as stored
ROWS, COLUMNS = 192, 32  # as seen
DILATIONS = (1, 2, 4, 8, 16, 32, 1)
# Filters of 3 × 3, planes of each, numbers of a folded row (`strip/net.rs`).
SHAPES = {"small": (2, 16, 40), "large": (4, 24, 64)}
# Strips held back, the first ones.
HELD = {"tip": 2400, "stop": 2400, "course": 1200}
# The row of the place that is asked about.
ANCHOR = {"tip": 112, "stop": 96}
STEP_MM = {"tip": 0.05, "stop": 0.1}
RIGHT_ROWS = {"tip": 3, "stop": 2}
# Columns of a course, mm, and deviation of the mark of a press on it.
COURSE_COLUMN_MM, PRESS_MM = 0.1, 0.15


class Strip(nn.Module):
    """Filters of 3 × 3 on the strip, those after the second added to what they
    see; each row's 32 columns folded into fewer numbers; seven filters of three
    rows, ever farther apart, each added to what it sees; a share for each row,
    and two from the mean and the largest of all rows."""

    def __init__(self, inputs, shape):
        super().__init__()
        convs, planes, folded = shape
        seen = [inputs] + [planes] * (convs - 1)
        self.convs = nn.ModuleList(nn.Conv2d(i, planes, 3, padding=1, bias=False) for i in seen)
        self.conv_norms = nn.ModuleList(nn.BatchNorm2d(planes) for _ in seen)
        self.fold, self.nf = nn.Conv1d(planes * COLUMNS, folded, 1, bias=False), nn.BatchNorm1d(folded)
        self.rows = nn.ModuleList(nn.Conv1d(folded, folded, 3, padding=d, dilation=d, bias=False) for d in DILATIONS)
        self.norms = nn.ModuleList(nn.BatchNorm1d(folded) for _ in DILATIONS)
        self.each = nn.Conv1d(folded, 1, 1)
        self.all = nn.Linear(2 * folded, 2)

    def forward(self, x):
        for k, (conv, norm) in enumerate(zip(self.convs, self.conv_norms)):
            said = F.relu(norm(conv(x)))
            x = said if k < 2 else x + said
        x = x.permute(0, 1, 3, 2).flatten(1, 2)  # plane · 32 + column, row
        x = F.relu(self.nf(self.fold(x)))
        for conv, norm in zip(self.rows, self.norms):
            x = x + F.relu(norm(conv(x)))
        rest = self.all(torch.cat([x.mean(2), x.amax(2)], 1))
        return torch.cat([self.each(x)[:, 0], rest], 1)

    def parts(self):
        """Weights and biases, the normalisation folded in."""
        pairs = [*zip(self.convs, self.conv_norms), (self.fold, self.nf), *zip(self.rows, self.norms)]
        for conv, norm in pairs:
            gain = norm.weight / torch.sqrt(norm.running_var + norm.eps)
            yield conv.weight * gain.view(-1, *[1] * (conv.weight.dim() - 1)), norm.bias - norm.running_mean * gain
        for layer in (self.each, self.all):
            yield layer.weight, layer.bias


class Strips:
    """The strips rendered so far, on the GPU."""

    def __init__(self, folder, name, most, without):
        self.paths, self.most, self.without = [f"{folder}/{name}.{e}" for e in ("i16", "f32")], most, without
        self.read, self.count = 0, 0
        course = name == "course"
        self.size, self.width = (ROWS, COLUMNS) if course else (LONG, WIDE), 5 if course else 3
        self.pixels = torch.zeros(most, *self.size, dtype=torch.int16, device="cuda")
        self.facts = torch.zeros(most, self.width, device="cuda")
        self.held, self.kinds = [], []
        self.first = HELD[name] if without is None else 0

    def grow(self, at_most=1024):
        if not all(os.path.exists(p) for p in self.paths):
            return False
        sizes = [2 * self.size[0] * self.size[1], 4 * self.width]
        whole = min(os.path.getsize(p) // s for p, s in zip(self.paths, sizes))
        take = min(whole - self.read, at_most, self.most - self.count)
        if take <= 0:
            return False
        pixels = np.fromfile(self.paths[0], np.int16, take * sizes[0] // 2, offset=self.read * sizes[0])
        facts = np.fromfile(self.paths[1], np.float32, take * self.width, offset=self.read * sizes[1])
        here = slice(self.count, self.count + take)
        self.pixels[here] = torch.from_numpy(pixels.reshape(take, *self.size)).cuda()
        facts = facts.reshape(take, self.width)
        self.facts[here] = torch.from_numpy(facts).cuda()
        for k, code in enumerate(facts[:, 2].astype(int)):
            kinds = (code % 10, 10 + code // 10 % 10, 20 if code >= 100 else -1)
            self.kinds.append(kinds)
            first = self.count + k < self.first
            if first if self.without is None else self.without in kinds:
                self.held.append(self.count + k)
        self.read += take
        self.count += take
        return True


def soft(x, sigma):
    """x (n, rows, columns) blurred by each sample's sigma (n), rows."""
    pad = 8
    f = torch.fft.rfft2(F.pad(x[:, None], (pad,) * 4, mode="replicate")[:, 0])
    fy = torch.fft.fftfreq(x.shape[1] + 2 * pad, device="cuda")[None, :, None]
    fx = torch.fft.rfftfreq(x.shape[2] + 2 * pad, device="cuda")[None, None, :]
    gain = torch.exp(-2 * math.pi**2 * sigma[:, None, None] ** 2 * (fx**2 + fy**2))
    back = torch.fft.irfft2(f * gain, s=(x.shape[1] + 2 * pad, x.shape[2] + 2 * pad))
    return back[:, pad:-pad, pad:-pad]


def field(n, of, *args):
    """A random field of the strip's size."""
    left = (ROWS - COLUMNS) // 2
    return of(n, ROWS, *args)[:, :, left : left + COLUMNS]


def bodies(n, x, y):
    """Bodies as wide as roots about the strip's middle, that end anywhere; rows
    y and columns x of (1, rows, columns)."""
    side = 1 - 2 * chosen(0.15, n)[:, None, None]
    end = uniform(-10, ROWS + 30, n, 1, 1)
    wide, long = uniform(5, 26, n, 1, 1), torch.exp(uniform(math.log(8), math.log(170), n, 1, 1))
    share = (((end - y) * side) / long).clamp(0, 1)
    half = wide * share ** uniform(0.3, 0.9, n, 1, 1)
    aside = 2.5 * torch.randn(n, 1, 1, device="cuda")
    d = (x - aside).abs()
    edge = torch.exp(uniform(math.log(0.4), math.log(3), n, 1, 1))
    inside = torch.sigmoid((half - d) / edge) * (share > 0)
    round_ = torch.sqrt((1 - (d / half.clamp(min=0.5)) ** 2).clamp(min=0))
    body = torch.where(chosen(0.5, n)[:, None, None] > 0, inside, inside * round_)
    rim_at, rim = uniform(1, 12, n, 1, 1), uniform(1, 4, n, 1, 1)
    rims = torch.exp(-(((d - half - rim_at) / rim) ** 2)) * (share > 0)
    cap = torch.exp(-(((end - y) * side + rim_at) / rim) ** 2) * (d < wide)
    rims = torch.maximum(rims, cap)
    return body * uniform(-0.15, 0.5, n, 1, 1) + rims * uniform(-0.25, 0.25, n, 1, 1)


def lines(n, x, y):
    """A line that comes and goes anywhere; a bright thin one never along the
    middle."""
    aside, slope = uniform(-16, 16, n, 1, 1), uniform(-0.25, 0.25, n, 1, 1)
    first = uniform(-60, ROWS, n, 1, 1)
    last = first + torch.exp(uniform(math.log(8), math.log(220), n, 1, 1))
    middle = aside + slope * (y - uniform(0, ROWS, n, 1, 1))
    wide = torch.exp(uniform(math.log(1), math.log(8), n, 1, 1))
    shown = torch.sigmoid((y - first) / uniform(0.5, 6, n, 1, 1)) * torch.sigmoid((last - y) / uniform(0.5, 6, n, 1, 1))
    line = torch.exp(-0.5 * ((x - middle) / wide) ** 2) * shown
    strength = uniform(-0.4, 0.3, n, 1, 1)
    along = (aside.abs() < 5) & (slope.abs() < 0.12)
    strength = torch.where(along, -strength.abs(), strength)
    return line * strength


def drawn_file(n, x, y, at):
    """Thickness of a round file that ends at row `at`, 1 at a usual place."""
    d = (at[:, None, None] - y).clamp(min=0)
    tip, taper = torch.exp(uniform(math.log(0.5), math.log(4.2), n, 1, 1)), uniform(0.0, 0.03, n, 1, 1)
    radius = torch.minimum(tip + taper * d, d * torch.exp(uniform(math.log(0.5), math.log(5), n, 1, 1))).clamp(min=1e-3)
    bend = uniform(-1, 1, n, 1, 1) * (d / 120) ** 2 + 0.5 * torch.randn(n, 1, 1, device="cuda")

    def area(v):
        v = torch.maximum(torch.minimum(v, radius), -radius)
        return v * torch.sqrt((radius**2 - v**2).clamp(min=0)) + radius**2 * torch.asin((v / radius).clamp(-1, 1))

    v = x - bend
    thick = area(v + 0.5) - area(v - 0.5)
    return thick / (2 * (tip + taper * 40)).clamp(min=1.0)


def processed(v, grainy=0.5, most_grain=-3.7):
    """Films made otherwise: tone curve, blur, sharpening, noise (of a share
    `grainy`, at most exp(`most_grain`)), 8 bit."""
    n = len(v)
    v = v.clamp(0, 1)
    v, _ = tone(v, torch.zeros(n, 2, device="cuda"), n)
    v = torch.where(chosen(0.35, n)[:, None, None] > 0, soft(v, torch.exp(uniform(-1, 0.6, n))), v)
    share = (chosen(0.35, n) * uniform(-0.7, 2.0, n))[:, None, None]
    v = v + share * (v - soft(v, torch.exp(uniform(-0.3, 1.4, n))))
    grain = (chosen(grainy, n) * torch.exp(uniform(-6.2, most_grain, n)))[:, None, None]
    v = v + grain * field(n, spectra, (0.4, 4), 40)
    v = v + chosen(0.5, n)[:, None, None] * uniform(0, 0.015, n, 1, 1) * torch.randn_like(v)
    v = torch.where(chosen(0.4, n)[:, None, None] > 0, (v * 255).round() / 255, v).clamp(0, 1)
    return v


def course_batch(strips, index, augment):
    """Input (n, 4, rows, columns), what is right of the two ends (n, 2), −1
    where it is not told."""
    n = len(index)
    index = torch.as_tensor(index, device="cuda")
    facts = strips.facts[index]
    raw = strips.pixels[index].float()
    mask = (raw >= 0).float()
    raw = raw.clamp(min=0) / 32767
    y = torch.arange(ROWS, device="cuda")[None, :, None].float()
    x = torch.arange(COLUMNS, device="cuda")[None, None, :].float()
    mirror = (1 - 2 * chosen(0.5, n))[:, None, None] if augment else torch.ones(n, 1, 1, device="cuda")
    aside = 0.0
    down = torch.zeros(n, 1, 1, device="cuda")
    if augment:
        wave = uniform(0, 2 * math.pi, n, 1, 1) + y / uniform(15, 60, n, 1, 1)
        aside = 0.5 * torch.randn(n, 1, 1, device="cuda") + 0.4 * torch.randn(n, 1, 1, device="cuda") * torch.sin(wave)
        down = uniform(-5, 5, n, 1, 1)
    middle = (COLUMNS - 1) / 2
    columns = middle + (x - middle) * mirror + aside + 0 * y
    rows = y + down + 0 * x
    grid = torch.stack([2 * columns / (COLUMNS - 1) - 1, 2 * rows / (ROWS - 1) - 1], -1)
    sample = lambda v: F.grid_sample(v[:, None], grid, mode="bilinear", align_corners=True)[:, 0]
    inside = sample(mask)
    v = sample(raw * mask) / inside.clamp(min=1e-3)
    m = (inside > 0.99).float()
    press_row, press_column, step = (facts[:, k, None, None] for k in (2, 3, 4))
    down2 = ((rows - press_row) * step / PRESS_MM) ** 2
    mark = torch.exp(-0.5 * (down2 + ((columns - press_column) * COURSE_COLUMN_MM / PRESS_MM) ** 2))
    if augment:
        size = m.sum((1, 2)).clamp(min=1)
        mean = (v * m).sum((1, 2)) / size
        spread = torch.sqrt((((v - mean[:, None, None]) ** 2) * m).sum((1, 2)) / size)
        range_ = (3 * spread).clamp(0.08, 0.6)[:, None, None]
        for share in (0.4, 0.2):
            rough = chosen(share, n)[:, None, None] * uniform(0, 0.15, n, 1, 1)
            v = v + rough * range_ * field(n, textures)
        v = processed(v, 0.6, -3.4)
    return torch.cat([seen(v, m), mark[:, None]], 1), facts[:, :2]


def course_loss(logits, right):
    told = (right >= 0).float()
    each = F.binary_cross_entropy_with_logits(logits[:, ROWS:].float(), right.clamp(min=0), reduction="none")
    return (each * told).sum() / told.sum().clamp(min=1)


def course_examined(net, strips, augment):
    """Of held courses: stated against right, and the area under the curve."""
    torch.manual_seed(5)
    said = []
    for k in range(0, len(strips.held), 300):
        x, right = course_batch(strips, strips.held[k : k + 300], augment)
        said.append(torch.cat([net(x)[:, ROWS:].sigmoid(), right], 1))
    said = torch.cat(said).cpu().numpy()
    words = []
    for k, end in enumerate(("stop", "tip")):
        p, right = said[:, k], said[:, 2 + k]
        p, right = p[right >= 0], right[right >= 0]
        order = np.argsort(np.argsort(p))
        good, bad = (right > 0).sum(), (right == 0).sum()
        area = (order[right > 0].sum() - good * (good - 1) / 2) / max(1, good * bad)
        words.append(f"{end}: {good} right, {bad} wrong, accuracy {((p > 0.5) == (right > 0)).mean():.3f}, area {area:.3f}")
    return "  ".join(words)


def batch(strips, index, name, augment, more=False):
    """Input (n, 3, rows, columns), wanted shares (n, rows + 2), whether anything
    is wanted."""
    n = len(index)
    index = torch.as_tensor(index, device="cuda")
    facts = strips.facts[index]
    there = facts[:, 0] > 0
    raw = strips.pixels[index].float()
    mask = (raw >= 0).float()
    raw = raw.clamp(min=0) / 32767
    step = STEP_MM[name]
    anchor = ANCHOR[name]
    at = uniform(4, ROWS - 4, n)
    near = anchor + uniform(-14, 14, n)
    at = torch.where(chosen(0.4, n) > 0, near, at)
    at = torch.where(chosen(0.1, n) > 0, uniform(-40, ROWS + 24, n), at)
    y = torch.arange(ROWS, device="cuda")[None, :, None].float()
    x = torch.arange(COLUMNS, device="cuda")[None, None, :].float() - (COLUMNS - 1) / 2
    scale = torch.exp(uniform(-0.13, 0.13, n))[:, None, None] if augment else torch.ones(n, 1, 1, device="cuda")
    mirror = (1 - 2 * chosen(0.5, n))[:, None, None]
    # The strip's line: not quite the file's, straight on beyond the anchor.
    sigma = 0.04 / step
    wave = uniform(0, 2 * math.pi, n, 1, 1) + y / uniform(20, 80, n, 1, 1)
    aside = sigma * torch.randn(n, 1, 1, device="cuda") + 0.7 * sigma * torch.randn(n, 1, 1, device="cuda") * torch.sin(wave)
    if name == "tip":
        past = (y - torch.where(chosen(0.3, n) > 0, torch.minimum(at, torch.full_like(at, anchor)), torch.full_like(at, anchor))[:, None, None]).clamp(min=0) * step
        aside = aside + past / step * 0.06 * torch.randn(n, 1, 1, device="cuda")
        aside = aside + past**2 / step * 0.03 * torch.randn(n, 1, 1, device="cuda")
    else:
        past = (anchor - y).clamp(min=0)
        aside = aside + past * 0.03 * torch.randn(n, 1, 1, device="cuda")
    rows = LONG / 2 + (y - at[:, None, None]) * scale + 0 * x
    columns = (WIDE - 1) / 2 + (x + aside) * mirror * scale
    grid = torch.stack([2 * columns / (WIDE - 1) - 1, 2 * rows / (LONG - 1) - 1], -1)
    sample = lambda v: F.grid_sample(v[:, None], grid, mode="bilinear", align_corners=True)[:, 0]
    inside = sample(mask)
    v = sample(raw * mask) / inside.clamp(min=1e-3)
    m = (inside > 0.99).float()
    painted = torch.zeros(n, dtype=torch.bool, device="cuda")
    if augment:
        size = m.sum((1, 2)).clamp(min=1)
        mean = (v * m).sum((1, 2)) / size
        spread = torch.sqrt((((v - mean[:, None, None]) ** 2) * m).sum((1, 2)) / size)
        range_ = (3 * spread).clamp(0.08, 0.6)[:, None, None]
        if name == "tip":
            painted = ~there & (torch.rand(n, device="cuda") < 0.75)
            file = soft(drawn_file(n, x, y, at), uniform(0.4, 2.0, n))
            contrast = torch.exp(uniform(math.log(0.06), math.log(1.2), n, 1, 1))
            v = v + painted.float()[:, None, None] * contrast * range_ * file
            v = v + chosen(0.4, n)[:, None, None] * range_ * soft(bodies(n, x, y), uniform(0.3, 1.5, n))
        for share in (0.3, 0.2):
            v = v + chosen(share, n)[:, None, None] * range_ * soft(lines(n, x, y), uniform(0.3, 1.5, n))
        for share, most in ((0.4, 0.16), (0.3, 0.25))[: 1 + more]:
            rough = (chosen(share, n) * uniform(0, most, n))[:, None, None]
            v = v + rough * range_ * field(n, textures)
        v = processed(v, 0.7, -3.4) if more else processed(v)
    # Where the place lies: shares of the rows about it.
    k = torch.arange(ROWS, device="cuda")[None].float()
    want = torch.exp(-0.5 * ((k - at[:, None]) / 0.8) ** 2)
    want = want / want.sum(1, keepdim=True).clamp(min=1e-6)
    shown = (there | painted) & (at >= 0) & (at <= ROWS - 1)
    beyond = (there | painted) & (at > ROWS - 1) & (name == "tip")
    want = want * shown[:, None]
    rest = torch.stack([~shown & ~beyond, beyond], 1).float()
    place = at.round().long().clamp(0, ROWS - 1)
    on_film = m[torch.arange(n, device="cuda"), place, COLUMNS // 2] > 0
    return seen(v, m), torch.cat([want, rest], 1), on_film | ~shown


def seen(v, m):
    """What the net sees: height over the middle one in units of the spread,
    height over the mean of the nine columns around, and where the film is."""
    nothing = torch.full_like(v, float("nan"))
    masked = torch.where(m > 0, v, nothing).flatten(1)
    middle = masked.nanmedian(1).values.nan_to_num(0)[:, None, None]
    spread = (masked - middle[:, 0]).abs().nanmedian(1).values.nan_to_num(0)[:, None, None]
    a = ((v - middle) / (2 * spread + 0.02)).clamp(-3, 3) * m
    # Means over nine columns of what is on the film.
    ones = torch.ones(1, 1, 1, 9, device=v.device)
    total = F.conv2d(F.pad((v * m)[:, None], (4, 4, 0, 0)), ones)[:, 0]
    count = F.conv2d(F.pad(m[:, None], (4, 4, 0, 0)), ones)[:, 0]
    high = v - total / count.clamp(min=1)
    usual = torch.where(m > 0, high, nothing).flatten(1).abs().nanmedian(1).values.nan_to_num(0)[:, None, None]
    b = (high / (3 * usual + 0.002)).clamp(-3, 3) * m
    return torch.stack([a, b, m], 1)


def examined(net, strips, name, augment):
    """Share right, and stated against right by tenths, on held strips."""
    stated, right, shown, asked, missing, invented = [], [], [], [], 0, 0
    torch.manual_seed(5)
    held = strips.held[:4800]
    losses = []
    for k in range(0, len(held), 300):
        x, want, ask = batch(strips, held[k : k + 300], name, augment)
        logits = net(x).float()
        losses.append(-(want * logits.log_softmax(1)).sum(1)[ask].mean().item())
        p = logits.softmax(1)
        r = RIGHT_ROWS[name]
        mass = F.avg_pool1d(F.pad(p[:, None, :ROWS], (r, r)), 2 * r + 1, 1)[:, 0] * (2 * r + 1)
        sure, row = mass.max(1)
        true = want[:, :ROWS].argmax(1)
        there = want[:, :ROWS].sum(1) > 0.5
        ok = there & ((row - true).abs() <= r)
        stated.append(sure[ask])
        right.append(ok[ask])
        shown.append(there[ask])
        asked.append(torch.as_tensor(held[k : k + 300], device="cuda")[ask])
        missing += int((there & ask).sum())
        invented += int((~there & (sure > 0.9)).sum())
    stated, right = torch.cat(stated), torch.cat(right)
    shown = torch.cat(shown)
    asked = torch.cat(asked).tolist()
    by_kind = []
    for kind in (0, 1, 2, 10, 11, 12, 13, 20):
        of = torch.tensor([kind in strips.kinds[k] for k in asked], device="cuda") & shown
        by_kind.append(f"{kind}: {int(right[of].sum())}/{int(of.sum())}")
    tenths = []
    for t in range(10):
        of = (stated >= t / 10) & (stated < t / 10 + 0.1 + (t == 9))
        tenths.append(f"{stated[of].mean():.2f}/{right[of].float().mean():.2f} ({int(of.sum())})")
    return f"loss {np.mean(losses):.3f}  right {int(right.sum())} of {missing}, none but > 0.9: {invented}  {' '.join(tenths)}\n  by kind: {'  '.join(by_kind)}"


def main():
    parser = argparse.ArgumentParser()
    parser.add_argument("name", choices=("tip", "stop", "course"))
    parser.add_argument("folder")
    parser.add_argument("out")
    parser.add_argument("--minutes", type=float, default=6.0)
    parser.add_argument("--strips", type=int, default=40000)
    parser.add_argument("--batch", type=int, default=320)
    parser.add_argument("--without", type=int, default=None)
    parser.add_argument("--shape", choices=SHAPES, default="small")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--more", action="store_true")
    args = parser.parse_args()
    torch.manual_seed(args.seed)
    torch.backends.cudnn.benchmark = True
    torch.set_float32_matmul_precision("high")
    strips = Strips(args.folder, args.name, args.strips, args.without)
    course = args.name == "course"
    while strips.count < strips.first + 800:
        if not strips.grow():
            time.sleep(1)
    rng = np.random.default_rng(args.seed)
    net = Strip(4 if course else 3, SHAPES[args.shape]).cuda()
    print(f"{sum(p.numel() for p in net.parameters())} parameters", flush=True)
    slow = copy.deepcopy(net).eval()
    optimiser = torch.optim.AdamW(net.parameters(), lr=2e-3, weight_decay=1e-3)
    start, step, last, average, allowed = time.time(), 0, 0.0, 0.0, None
    while (share := (time.time() - start) / (60 * args.minutes)) < 1:
        for group in optimiser.param_groups:
            group["lr"] = 3e-3 * min(1.0, step / 300) * (0.5 + 0.5 * math.cos(math.pi * share)) + 1e-6
        if step % 50 == 0:
            strips.grow()
            held = np.zeros(strips.count, bool)
            held[strips.held] = True
            allowed = np.nonzero(~held)[0]
        with torch.no_grad():
            chosen_now = rng.choice(allowed, args.batch)
            if course:
                x, right = course_batch(strips, chosen_now, True)
            else:
                x, want, ask = batch(strips, chosen_now, args.name, True, args.more)
        with torch.autocast("cuda", torch.bfloat16):
            logits = net(x)
        if course:
            loss = course_loss(logits, right)
        else:
            loss = -(want * logits.float().log_softmax(1)).sum(1)[ask].mean()
        optimiser.zero_grad(set_to_none=True)
        loss.backward()
        nn.utils.clip_grad_norm_(net.parameters(), 2.0)
        optimiser.step()
        step += 1
        keep = min(0.999, step / (step + 20))
        with torch.no_grad():
            for a, b in zip(slow.state_dict().values(), net.state_dict().values()):
                a.lerp_(b, 1 - keep) if a.dtype.is_floating_point else a.copy_(b)
        average = loss.item() if step == 1 else 0.98 * average + 0.02 * loss.item()
        if time.time() - last > 40:
            last = time.time()
            print(f"{last - start:5.0f} s  step {step}  strips {strips.count}  loss {average:.3f}", flush=True)
    with torch.no_grad():
        for augment in (False, True):
            told = course_examined(slow, strips, augment) if course else examined(slow, strips, args.name, augment)
            print(f"held, {'varied' if augment else 'plain'}: {told}", flush=True)
    write(slow, strips, args.name, args.out)
    print(f"done after {step} steps", flush=True)


def write(net, strips, name, path):
    """The weights, and a check for the program: a strip's opacities (−1 off the
    film) and what the net says of it."""
    with torch.no_grad():
        with open(path, "wb") as out:
            for part in net.parts():
                for numbers in part:
                    out.write(numbers.float().contiguous().cpu().numpy().astype("<f2").tobytes())
        torch.backends.cuda.matmul.allow_tf32 = torch.backends.cudnn.allow_tf32 = False
        if name == "course":
            x, _ = course_batch(strips, [0], False)
            v, m = strips.pixels[:1].float().clamp(min=0) / 32767, x[:, 2]
        else:
            raw = strips.pixels[:1, 174 : 174 + ROWS, 12 : 12 + COLUMNS].float()
            m = (raw >= 0).float()
            v = raw.clamp(min=0) / 32767
            x = seen(v, m)
        stored = torch.where(m > 0, v, torch.full_like(v, -1.0))
        numbers = np.concatenate([t.cpu().numpy().ravel() for t in (stored, x[:, 3:], net(x))])
        numbers.astype("<f4").tofile(path + ".check")


if __name__ == "__main__":
    main()
