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
        self.beats = nn.Conv1d(WIDTH, 3, 1)
        self.tempi = nn.Conv1d(WIDTH, len(network.TEMPI), 1)

    def forward(self, heard: Tensor) -> tuple[Tensor, Tensor]:
        """Return logits of beat, one and eight, (batch, 3, frames), and of tempi, from (batch, frames, bands, 2)."""
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


def unfold(net: Net, weights: dict[str, np.ndarray], heard: Tensor) -> None:
    """Put folded weights back into a network that can be trained on: its norms take what they undo from some music.

    An output that the weights lack begins at nothing.
    """

    def put(layer: nn.Module, weight: np.ndarray) -> None:
        layer.weight.copy_(torch.from_numpy(np.ascontiguousarray(weight)).reshape(layer.weight.shape))

    def settle(norm: nn.Module, bias: np.ndarray, flat: Tensor) -> None:
        mean, variance = flat.mean(dim=1), flat.var(dim=1) + 1e-6
        norm.running_mean.copy_(mean)
        norm.running_var.copy_(variance)
        norm.weight.copy_(torch.sqrt(variance + norm.eps))
        norm.bias.copy_(torch.from_numpy(bias).to(mean) + mean)

    net.eval()
    with torch.no_grad():
        x = heard.permute(0, 3, 1, 2)
        for k, (look, norm) in enumerate(zip(net.looks, net.look_norms, strict=True)):
            out, into = look.weight.shape[:2]
            put(look, weights[f"look{k}"].reshape(3, 3, into, out).transpose(3, 2, 0, 1))
            raw = look(x)
            settle(norm, weights[f"look{k}.bias"], raw.transpose(0, 1).flatten(1))
            x = functional.elu(functional.max_pool2d(norm(raw), (1, 3)))
        x = x.permute(0, 3, 1, 2).flatten(1, 2)
        put(net.join, weights["join"].T)
        raw = net.join(x)
        settle(net.join_norm, weights["join.bias"], raw.transpose(0, 1).flatten(1))
        x = functional.elu(net.join_norm(raw))
        for k, (wide, norm, narrow) in enumerate(zip(net.wides, net.norms, net.narrows, strict=True)):
            put(wide, weights[f"block{k}.wide"].reshape(5, WIDTH, WIDTH).transpose(2, 1, 0))
            raw = wide(x)
            settle(norm, weights[f"block{k}.wide.bias"], raw.transpose(0, 1).flatten(1))
            put(narrow, weights[f"block{k}.narrow"].T)
            narrow.bias.copy_(torch.from_numpy(weights[f"block{k}.narrow.bias"]))
            x = x + narrow(functional.elu(norm(raw)))
        for name, head in (("beats", net.beats), ("tempi", net.tempi)):
            known = weights[name].shape[1]
            head.weight.zero_()
            head.weight[:known].copy_(torch.from_numpy(weights[name].T.copy())[:, :, None])
            head.bias.fill_(-6.0)
            head.bias[:known].copy_(torch.from_numpy(weights[f"{name}.bias"]))
    net.train()
