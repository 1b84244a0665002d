"""The network as it is trained, in PyTorch; `tempo_coach.music.beats.network` runs the same in numpy."""

from __future__ import annotations

import numpy as np
import torch
from torch import Tensor, nn
from torch.nn import functional

from tempo_coach.music.beats import network
from tempo_coach.music.beats.network import BANDS_HZ

LOOKS = (16, 32)
WIDTH = 80


class Net(nn.Module):
    """Two small convolutions, eleven residual blocks that look ever further, three heads."""

    def __init__(self, *, drop: float = 0.1) -> None:
        super().__init__()
        bands = len(BANDS_HZ) // 3 // 3
        self.looks = nn.ModuleList(nn.Conv2d(a, b, 3, padding=1, bias=False) for a, b in ((2, LOOKS[0]), LOOKS))
        self.look_norms = nn.ModuleList(nn.BatchNorm2d(n) for n in LOOKS)
        self.join = nn.Conv1d(LOOKS[1] * bands, WIDTH, 1, bias=False)
        self.join_norm = nn.BatchNorm1d(WIDTH)
        self.wides = nn.ModuleList(
            nn.Conv1d(WIDTH, WIDTH, 5, dilation=2**k, padding=2 * 2**k, bias=False) for k in range(network.BLOCKS)
        )
        self.norms = nn.ModuleList(nn.BatchNorm1d(WIDTH) for _ in range(network.BLOCKS))
        self.narrows = nn.ModuleList(nn.Conv1d(WIDTH, WIDTH, 1) for _ in range(network.BLOCKS))
        self.drop = nn.Dropout1d(drop)
        self.beats = nn.Conv1d(WIDTH, 2, 1)
        self.tempi = nn.Conv1d(WIDTH, len(network.TEMPI), 1)

    def forward(self, heard: Tensor) -> tuple[Tensor, Tensor]:
        """Return logits of beat and downbeat, (batch, 2, frames), and of tempi, from (batch, frames, bands, 2)."""
        x = heard.permute(0, 3, 1, 2)
        for look, norm in zip(self.looks, self.look_norms, strict=True):
            x = functional.elu(functional.max_pool2d(norm(look(x)), (1, 3)))
        x = x.permute(0, 3, 1, 2).flatten(1, 2)  # bands outside, channels inside, as in numpy
        x = self.drop(functional.elu(self.join_norm(self.join(x))))
        for wide, norm, narrow in zip(self.wides, self.norms, self.narrows, strict=True):
            x = x + narrow(self.drop(functional.elu(norm(wide(x)))))
        x = functional.elu(x)
        return self.beats(x), self.tempi(x)


def fold(net: Net) -> dict[str, np.ndarray]:
    """Return the weights as the numpy network takes them, the norms folded into the convolutions before them."""

    def folded(weight: Tensor, norm: nn.Module) -> tuple[np.ndarray, np.ndarray]:
        gain = norm.weight.double() / torch.sqrt(norm.running_var.double() + norm.eps)
        bias = norm.bias.double() - norm.running_mean.double() * gain
        return (weight.double() * gain.reshape(-1, *[1] * (weight.dim() - 1))).cpu().numpy(), bias.cpu().numpy()

    out: dict[str, np.ndarray] = {}
    with torch.no_grad():
        for k, (look, norm) in enumerate(zip(net.looks, net.look_norms, strict=True)):
            weight, out[f"look{k}.bias"] = folded(look.weight, norm)
            out[f"look{k}"] = weight.transpose(2, 3, 1, 0).reshape(-1, weight.shape[0])
        weight, out["join.bias"] = folded(net.join.weight, net.join_norm)
        out["join"] = weight[:, :, 0].T
        for k, (wide, norm, narrow) in enumerate(zip(net.wides, net.norms, net.narrows, strict=True)):
            weight, out[f"block{k}.wide.bias"] = folded(wide.weight, norm)
            out[f"block{k}.wide"] = weight.transpose(2, 1, 0).reshape(-1, WIDTH)
            out[f"block{k}.narrow"] = narrow.weight[:, :, 0].T.double().cpu().numpy()
            out[f"block{k}.narrow.bias"] = narrow.bias.double().cpu().numpy()
        for name, head in (("beats", net.beats), ("tempi", net.tempi)):
            out[name] = head.weight[:, :, 0].T.double().cpu().numpy()
            out[f"{name}.bias"] = head.bias.double().cpu().numpy()
    return {name: np.ascontiguousarray(value, np.float32) for name, value in out.items()}
