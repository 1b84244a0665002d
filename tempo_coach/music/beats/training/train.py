"""The training of the network, once and whole: examples are taken up as they are made, the schedule runs to its end.

What worked in a trial and is kept: targets 1, .5, .22 at 0, 1, 2 frames from a beat, .06 of the tempo's cross-entropy,
AdamW falling as a cosine, averaged weights, 24 examples of a minute a step. The first
weights were trained from nothing (17,932 examples, 35,038 steps at 2e-3); later ones go on from those before them.
"""

from __future__ import annotations

import json
import threading
import time
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np
import torch
from torch.nn import functional

from tempo_coach.music.beats import network
from tempo_coach.music.beats.features import FRAME_HZ
from tempo_coach.music.beats.network import BANDS_HZ
from tempo_coach.music.beats.training.make import FRAMES, LEVELS
from tempo_coach.music.beats.training.net import Net, fold, unfold

if TYPE_CHECKING:
    from pathlib import Path

BATCH = 24
KEEP = 0.999
TEMPO_SHARE = 0.06
HELD = 250  # the first seeds are never trained on; their loss is shown, nothing is chosen by it


#: What stands for "nobody knows" among the targets, which are bytes from 0 to 200.
UNKNOWN = 255
_FULL = 200


def draw_targets(beats: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Return targets for beats, ones and eights as bytes, (frames, 3), and each frame's place among the tempi.

    Targets go to 200; `UNKNOWN` where nobody knows. A place among the tempi is -1 where there is none.
    """
    frame = np.arange(FRAMES, dtype=np.float32)
    out = np.zeros((FRAMES, 3), np.float32)
    at = beats[:, 0] * FRAME_HZ
    for column, places in enumerate((at, at[beats[:, 1] > 0.5], at[beats[:, 2] > 0.5])):
        for place in places:
            low, high = max(int(place) - 3, 0), min(int(place) + 5, FRAMES)
            shape = np.interp(np.abs(frame[low:high] - place), [0, 1, 2, 3], [1, 0.5, 0.22, 0])
            out[low:high, column] = np.maximum(out[low:high, column], shape)
    bytes_ = np.round(out * _FULL).astype(np.uint8)
    for column in (1, 2):
        for place in at[np.isnan(beats[:, column])]:
            bytes_[max(int(place) - 3, 0) : int(place) + 5, column] = UNKNOWN
    tempo = np.full(FRAMES, -1, np.float32)
    if len(at) > 3:
        steps = np.diff(at)
        usual = np.array([np.median(steps[max(i - 2, 0) : i + 3]) for i in range(len(steps))])
        for i, (a, b) in enumerate(pairwise(at)):
            if b - a < 1.6 * usual[i]:
                bpm = 60 * FRAME_HZ / usual[i]
                place = np.log(bpm / network.TEMPI[0]) / np.log(network.TEMPI[1] / network.TEMPI[0])
                tempo[int(a) : int(b) + 1] = np.clip(place, 0, len(network.TEMPI) - 1)
    return bytes_, tempo


class Pool:
    """Examples on the accelerator, filled by a thread as files appear in a folder."""

    def __init__(self, folder: Path, most: int, device: str) -> None:
        self.folder, self.most = folder, most
        self.shown = torch.empty((most, FRAMES, len(BANDS_HZ), 2), dtype=torch.uint8, device=device)
        self.beats = torch.empty((most, FRAMES, 3), dtype=torch.uint8, device=device)
        self.tempo = torch.empty((most, FRAMES), dtype=torch.float16, device=device)
        self.count = 0
        self.held: list[int] = []
        self.seen: set[str] = set()
        self.stop = False

    def take_up(self) -> None:
        """Take up whatever files are there; seeds below `HELD` are put aside."""
        for path in sorted(self.folder.glob("*.npz"), key=lambda p: int(p.stem)):
            if path.name in self.seen or self.count >= self.most or self.stop:
                continue
            self.seen.add(path.name)
            with np.load(path) as stored:
                shown, beats = stored["shown"], stored["beats"]
            ones, tempo = draw_targets(beats)
            n = self.count
            self.shown[n] = torch.from_numpy(shown)
            self.beats[n] = torch.from_numpy(ones)
            self.tempo[n] = torch.from_numpy(tempo.astype(np.float16))
            if int(path.stem) < HELD:
                self.held.append(n)
            self.count = n + 1

    def follow(self) -> None:
        """Keep taking up until told to stop."""
        while not self.stop and self.count < self.most:
            self.take_up()
            time.sleep(0.5)


def bend(shown: torch.Tensor, generator: torch.Generator) -> torch.Tensor:
    """Change level and tone of log spectra at random, leave out bands, add a floor of noise."""
    batch, _, bands, _ = shown.shape
    device = shown.device

    def normal(*shape: int) -> torch.Tensor:
        return torch.randn(shape, generator=generator, device=device)

    def uniform(*shape: int) -> torch.Tensor:
        return torch.rand(shape, generator=generator, device=device)

    level = torch.pow(10.0, shown) - 1.0
    place = torch.linspace(0, 1, bands, device=device)
    tone = normal(batch, 1, 1, 1) * 3.0
    for wave in (0.5, 1.0, 2.0, 3.5):
        tone = tone + (normal(batch, 1, 1, 1) * 3.0 / wave**0.5) * torch.cos(
            6.283 * (wave * place + uniform(batch, 1))[:, None, :, None]
        )
    level = level * torch.pow(10.0, tone / 20)
    floor = torch.pow(10.0, uniform(batch, 1, 1, 1) * 2.5 - 2.0) * (uniform(batch, 1, 1, 1) < 0.3)
    bent = torch.log10(1.0 + level + floor)
    first = uniform(batch, 1) * bands
    width = uniform(batch, 1) * 14 * (uniform(batch, 1) < 0.4)
    number = torch.arange(bands, device=device)[None]
    out = (number >= first) & (number < first + width)
    return bent * ~out[:, None, :, None]


def find_loss(
    net: Net, shown: torch.Tensor, beats: torch.Tensor, tempo: torch.Tensor
) -> tuple[torch.Tensor, torch.Tensor]:
    """Return the losses of beats, ones and eights together, and of the tempi."""
    with torch.autocast(shown.device.type, torch.bfloat16):
        ones, tempi = net(shown)
    wanted_ones = beats.permute(0, 2, 1).float()
    beat_loss = functional.binary_cross_entropy_with_logits(
        ones.float(), (wanted_ones / _FULL).clamp(max=1), reduction="none"
    )
    beat_loss = beat_loss * (wanted_ones != UNKNOWN)
    classes = torch.arange(tempi.shape[1], device=tempi.device, dtype=torch.float32)[None, :, None]
    wanted = torch.clamp(1 - (classes - tempo[:, None]).abs() / 2, min=0)
    known = tempo >= 0
    wanted = wanted / wanted.sum(1, keepdim=True).clamp(min=1e-6)
    tempo_loss = -(wanted * functional.log_softmax(tempi.float(), 1)).sum(1)
    return beat_loss.mean(dim=(0, 2)).sum(), (tempo_loss * known).sum() / known.sum().clamp(min=1)


def train(
    folder: Path,
    out: Path,
    *,
    seed: int,
    seconds: float,
    least: int = 4000,
    most: int = 20_000,
    steps: int | None = None,
    gpu: int = 0,
    rate: int = 1000,
    warm: int = 1,
) -> None:
    """Train for as many steps as fit the seconds (found from the first 150) and write weights and a log.

    `rate` is the highest learning rate in millionths; with `warm` training goes on from the package's own weights.
    """
    device = f"cuda:{gpu}" if torch.cuda.is_available() else "cpu"
    if torch.cuda.is_available():
        torch.cuda.set_device(gpu)
    torch.backends.cudnn.benchmark = True
    torch.manual_seed(seed)
    generator = torch.Generator(device).manual_seed(seed)
    out.mkdir(parents=True, exist_ok=True)
    begin = time.monotonic()
    pool = Pool(folder, most, device)
    while pool.count < least:
        pool.take_up()
        time.sleep(0.2)
    follower = threading.Thread(target=pool.follow, daemon=True)
    follower.start()
    net = Net().to(device)
    if warm:
        some = torch.arange(min(16, pool.count), device=device)
        unfold(net, network.load(), pool.shown[some].float() / LEVELS)
    average = Net().to(device).eval()
    average.load_state_dict(net.state_dict())
    optimiser = torch.optim.AdamW(net.parameters(), lr=rate * 1e-6, weight_decay=0.01)
    log = (out / "log.jsonl").open("w")
    planned = steps or 10**6
    start = time.monotonic()
    step = 0
    held = set(pool.held)
    while step < planned:
        if steps is None and step == 150:
            torch.cuda.synchronize()
            start = time.monotonic()
        if steps is None and step == 450:
            torch.cuda.synchronize()
            each = (time.monotonic() - start) / 300
            planned = 450 + int((seconds - (time.monotonic() - begin)) / each * 0.97)
            print(f"waited {start - begin:.0f} s, {1 / each:.1f} steps a second, {planned} steps", flush=True)
        if step % 200 == 0:
            held = set(pool.held)
            choose = torch.tensor([i for i in range(pool.count) if i not in held], device=device)
        share = min(step / 500, 1.0) * (
            0.5 + 0.5 * np.cos(np.pi * min(step / planned, 1.0)) if planned < 10**6 else 1.0
        )
        for group in optimiser.param_groups:
            group["lr"] = rate * 1e-6 * max(share, 1e-3)
        pick = choose[torch.randint(len(choose), (BATCH,), generator=generator, device=device)]
        shown = bend(pool.shown[pick].float() / LEVELS, generator)
        beat_loss, tempo_loss = find_loss(net, shown, pool.beats[pick], pool.tempo[pick].float())
        optimiser.zero_grad(set_to_none=True)
        (beat_loss + TEMPO_SHARE * tempo_loss).backward()
        torch.nn.utils.clip_grad_norm_(net.parameters(), 1.0)
        optimiser.step()
        keep = min(KEEP, (step + 1) / (step + 10))
        with torch.no_grad():
            old = [v for v in average.state_dict().values() if v.is_floating_point()]
            new = [v for v in net.state_dict().values() if v.is_floating_point()]
            torch._foreach_lerp_(old, new, 1 - keep)
        step += 1
        if step % 500 == 0 or step == planned:
            line = {
                "step": step,
                "examples": pool.count - len(held),
                "beats": float(beat_loss.detach()),
                "tempo": float(tempo_loss.detach()),
                "seconds": round(time.monotonic() - begin, 1),
                **show_held(average, pool),
            }
            log.write(json.dumps(line) + "\n")
            log.flush()
            if step % 2000 == 0 or step == planned or step <= 1000:
                print(line, flush=True)
            torch.save(average.state_dict(), out / "average.pt")
    pool.stop = True
    np.savez(out / "weights.npz", **fold(average))  # type: ignore[arg-type, unused-ignore]
    write_reference(average, pool, out / "reference.npz")


def show_held(net: Net, pool: Pool) -> dict[str, float]:
    """Return the losses on examples that are put aside."""
    if not pool.held:
        return {}
    pick = torch.tensor(pool.held[:48], device=pool.shown.device)
    with torch.no_grad():
        beats, tempo = find_loss(net, pool.shown[pick].float() / LEVELS, pool.beats[pick], pool.tempo[pick].float())
    return {"held beats": round(float(beats), 5), "held tempo": round(float(tempo), 4)}


def write_reference(net: Net, pool: Pool, path: Path) -> None:
    """Write what the trained network says in float64 to 500 frames put aside, and print how near numpy comes."""
    index = pool.held[0] if pool.held else 0
    shown = pool.shown[index, 1000:1500].cpu()
    exact = Net().double().eval()
    exact.load_state_dict({k: v.cpu().double() for k, v in net.state_dict().items()})
    with torch.no_grad():
        ones, tempi = exact(shown.double()[None] / LEVELS)
    ones, tempi = torch.sigmoid(ones)[0].T.numpy(), torch.softmax(tempi, 1)[0].T.numpy()
    mine = network.run(fold(net), np.asarray(shown.numpy(), np.float32) / np.float32(LEVELS))
    print("numpy and torch differ by at most", np.abs(mine[0] - ones).max(), np.abs(mine[1] - tempi).max(), flush=True)
    np.savez_compressed(path, shown=shown.numpy(), beats=ones.astype(np.float32), tempi=tempi.astype(np.float32))
