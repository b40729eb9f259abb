#!/usr/bin/env python3
"""Trains the film reader of `src/assist/reader` and writes its weights.

    cargo run --release --no-default-features --example assist_films -- FOLDER
    python3 tests/scripts/train_reader.py FOLDER OUT.bin --minutes 6

Needs PyTorch and a GPU; the program itself does not. Only phantom films of the
tuning set are seen. The weights are 16-bit floats, layer by layer in the order
of `LAYERS`: for each layer its weights (out, in, row, column), then its biases.
"""

import argparse
import time

import numpy as np
import torch
import torch.nn as nn
import torch.nn.functional as F

SIDE, MAPS = 416, 6
WIDTHS = (16, 32, 48, 64, 64)


class Reader(nn.Module):
    """Layers in the order of the weights file; every convolution but the last
    is followed by a rectifier, the joins of two levels too."""

    def __init__(self):
        super().__init__()
        a, b, c, d, e = WIDTHS
        conv = lambda i, o, k=3, s=1: nn.Conv2d(i, o, k, s, k // 2)
        self.l0a, self.l0b = conv(4, a), conv(a, a)
        self.l1a, self.l1b = conv(a, b, 3, 2), conv(b, b)
        self.l2a, self.l2b = conv(b, c, 3, 2), conv(c, c)
        self.l3a, self.l3b = conv(c, d, 3, 2), conv(d, d)
        self.l4a, self.l4b, self.l4c = conv(d, e, 3, 2), conv(e, e), conv(e, e)
        self.u3a, self.u3b = conv(e, d, 1), conv(d, d)
        self.u2a, self.u2b = conv(d, c, 1), conv(c, c)
        self.u1a, self.u1b = conv(c, b, 1), conv(b, b)
        self.u0a, self.u0b = conv(b, a, 1), conv(a, a)
        self.h0, self.h1 = conv(a, a), conv(a, 5, 1)

    def forward(self, x):
        r = F.relu
        up = lambda t: F.interpolate(t, scale_factor=2, mode="nearest")
        s0 = r(self.l0b(r(self.l0a(x))))
        s1 = r(self.l1b(r(self.l1a(s0))))
        s2 = r(self.l2b(r(self.l2a(s1))))
        s3 = r(self.l3b(r(self.l3a(s2))))
        s4 = r(self.l4c(r(self.l4b(r(self.l4a(s3))))))
        u = r(self.u3b(r(up(self.u3a(s4)) + s3)))
        u = r(self.u2b(r(up(self.u2a(u)) + s2)))
        u = r(self.u1b(r(up(self.u1a(u)) + s1)))
        u = r(self.u0b(r(up(self.u0a(u)) + s0)))
        return self.h1(r(self.h0(u)))


LAYERS = (
    "l0a l0b l1a l1b l2a l2b l3a l3b l4a l4b l4c u3a u3b u2a u2b u1a u1b u0a u0b h0 h1"
).split()


def load(folder, count):
    films = np.fromfile(f"{folder}/films.i16", np.int16)
    truth = np.fromfile(f"{folder}/truth.u8", np.uint8)
    sizes = np.fromfile(f"{folder}/sizes.u16", np.uint16).astype(int)
    # What an interrupted run left is used as far as it goes.
    whole = min(len(films) // (4 * SIDE**2), len(truth) // (MAPS * SIDE**2), len(sizes) // 2)
    count = min(count, whole)
    films = films[: count * 4 * SIDE**2].reshape(-1, 2 * SIDE, 2 * SIDE)
    truth = truth[: count * MAPS * SIDE**2].reshape(-1, MAPS, SIDE, SIDE)
    sizes = sizes[: 2 * count].reshape(-1, 2)
    films, sizes = films[:count], sizes[:count]
    ranges = []
    for film, (w, h) in zip(films, sizes):
        values = film[: 2 * h : 5, : 2 * w : 3].astype(np.float32) / 32767
        ranges.append(np.quantile(values, (0.05, 0.95)))
    return (
        torch.from_numpy(films).cuda(),
        torch.from_numpy(truth[:count]).cuda(),
        sizes,
        torch.tensor(np.array(ranges), dtype=torch.float32).cuda(),
    )


def batch(data, index, crop, augment, rng):
    """Film cells (n, 4, crop, crop), truth and mask of random crops. The film's
    5th and 95th percentile of opacity come to lie at -1 and 1; beyond the film
    there is 0."""
    films, truth, sizes, ranges = data
    crops, targets, masks = [], [], []
    for k in index:
        w, h = sizes[k]
        left = rng.integers(0, max(1, w - crop + 1)) if augment else 0
        top = rng.integers(0, max(1, h - crop + 1)) if augment else 0
        film = films[k, 2 * top : 2 * (top + crop), 2 * left : 2 * (left + crop)]
        want = truth[k, :, top : top + crop, left : left + crop]
        mask = torch.zeros(crop, crop, device=films.device)
        mask[: max(0, h - top), : max(0, w - left)] = 1
        if augment:
            turns = int(rng.integers(0, 4))
            film, want, mask = (torch.rot90(v, turns, (-2, -1)) for v in (film, want, mask))
            if rng.random() < 0.5:
                film, want, mask = film.flip(-1), want.flip(-1), mask.flip(-1)
        crops.append(film)
        targets.append(want)
        masks.append(mask)
    x = torch.stack(crops).float() / 32767
    mask = torch.stack(masks)
    levels = ranges[torch.as_tensor(index, device=films.device)]
    if augment:
        n = len(index)
        gamma = torch.exp(torch.empty(n, 1, 1, device=x.device).uniform_(-0.4, 0.4))
        x = x.clamp(1e-4, 1) ** gamma
        levels = levels.clamp(1e-4, 1) ** gamma[:, 0]
        x = x + torch.empty(n, 1, 1, device=x.device).uniform_(0, 0.012) * torch.randn_like(x)
    low, high = levels[:, 0, None, None], levels[:, 1, None, None]
    x = ((x - low) / (high - low).clamp(min=0.02) * 2 - 1).clamp(-2.5, 2.5)
    inside = mask.repeat_interleave(2, 1).repeat_interleave(2, 2)
    x = F.pixel_unshuffle((x * inside)[:, None], 2)
    return x, torch.stack(targets).float() / 255, mask


def loss_of(logits, target, mask):
    logits = logits.float()
    p = torch.sigmoid(logits).clamp(1e-5, 1 - 1e-5)
    total = 0.0
    for k, point in enumerate((False, True, True, True, False)):
        t, q = target[:, k], p[:, k]
        m = mask
        if k == 2:
            m = mask * (target[:, 5] < 0.05)
        if point:
            near = t > 0.97
            hit = -((1 - q) ** 2) * torch.log(q) * near
            miss = -(q**2) * ((1 - t) ** 4) * torch.log(1 - q) * ~near
            total = total + ((hit + miss) * m).sum() / (near * m).sum().clamp(min=4)
        else:
            bce = F.binary_cross_entropy_with_logits(logits[:, k], t, reduction="none")
            total = total + 8 * (bce * (1 + 4 * t) * m).sum() / m.sum()
            both = (q * t * m).sum()
            total = total + 0.5 * (1 - 2 * both / ((q * q * m).sum() + (t * t * m).sum() + 1))
    return total


def main():
    parser = argparse.ArgumentParser()
    parser.add_argument("folder")
    parser.add_argument("out")
    parser.add_argument("--minutes", type=float, default=6.0)
    parser.add_argument("--films", type=int, default=6000)
    parser.add_argument("--batch", type=int, default=48)
    parser.add_argument("--crop", type=int, default=256)
    args = parser.parse_args()
    torch.manual_seed(1)
    torch.backends.cudnn.benchmark = True
    data = load(args.folder, args.films)
    count = len(data[0])
    held = max(32, count // 20)
    rng = np.random.default_rng(1)
    net = Reader().cuda().to(memory_format=torch.channels_last)
    optimiser = torch.optim.AdamW(net.parameters(), lr=2e-3, weight_decay=1e-4)
    start, step, last = time.time(), 0, 0.0
    average = 0.0
    while (share := (time.time() - start) / (60 * args.minutes)) < 1:
        warm = min(1.0, step / 300)
        for group in optimiser.param_groups:
            group["lr"] = 3e-3 * warm * (0.5 + 0.5 * np.cos(np.pi * share)) + 1e-6
        index = rng.integers(held, count, args.batch)
        x, t, m = batch(data, index, args.crop, True, rng)
        with torch.autocast("cuda", torch.bfloat16):
            logits = net(x.contiguous(memory_format=torch.channels_last))
        loss = loss_of(logits, t, m)
        optimiser.zero_grad()
        loss.backward()
        nn.utils.clip_grad_norm_(net.parameters(), 5.0)
        optimiser.step()
        step += 1
        if step % 20 == 1:
            average = loss.item() if step == 1 else 0.8 * average + 0.2 * loss.item()
        if time.time() - last > 20:
            last = time.time()
            print(f"{last - start:5.0f} s  step {step}  loss {average:.3f}", flush=True)
    net.eval()
    with torch.no_grad():
        losses = []
        for k in range(0, held, 16):
            x, t, m = batch(data, np.arange(k, min(held, k + 16)), 416, False, rng)
            losses.append(loss_of(net(x), t, m).item())
        print(f"held-out loss {np.mean(losses):.3f} after {step} steps")
    with open(args.out, "wb") as out:
        for name in LAYERS:
            layer = getattr(net, name)
            for part in (layer.weight, layer.bias):
                out.write(part.detach().cpu().numpy().astype("<f2").tobytes())
    # A check for the program: input and maps of one film.
    with torch.no_grad():
        x, _, _ = batch(data, np.arange(1), 64, False, rng)
        halved = Reader().cuda()
        halved.load_state_dict({k: v.half().float() for k, v in net.state_dict().items()})
        np.concatenate(
            [x.cpu().numpy().ravel(), halved(x).cpu().numpy().ravel()]
        ).astype("<f4").tofile(args.out + ".check")


if __name__ == "__main__":
    main()
