"""Samples as bytes on the training device: filled from shards as they arrive, taken by number, validated on."""

from collections.abc import Callable
from pathlib import Path

import numpy as np
import several_gpus
import torch
from samples import Samples, load, shard_length
from torch import nn

from semwear.metrics import intersection_over_union
from semwear.network import STATES
from semwear.score import INPUT_LIMIT

FIELDS = ("image", "codes", "worn", "kind")


class Store:
    """Samples as bytes on the training device, growing as shards arrive.

    With a capacity, room for that many samples is taken at once and the oldest make way for new ones when it is full.
    """

    def __init__(self, device: torch.device, capacity: int | None = None) -> None:
        self.device = device
        self.capacity = capacity
        self.arrays: list[torch.Tensor] = []
        self.waiting: list[Samples] = []
        self.arrived = 0
        self.count = 0

    def add(self, samples: Samples) -> None:
        self.waiting.append(samples)
        self.count = min(self.count + len(samples), self.capacity or self.count + len(samples))

    def __len__(self) -> int:
        return self.count

    def take(self, indices: np.ndarray) -> tuple[torch.Tensor, ...]:
        """Return image, codes, worn and kind of the samples with these numbers."""
        waiting, self.waiting = self.waiting, []
        if waiting and self.capacity:
            for samples in waiting:
                self._place(samples)
        elif waiting:
            arrived = (np.concatenate([getattr(part, name) for part in waiting]) for name in FIELDS)
            tensors = [torch.from_numpy(array).to(self.device) for array in arrived]
            self.arrays = (
                [torch.cat(pair) for pair in zip(self.arrays, tensors, strict=True)] if self.arrays else tensors
            )
        chosen = sent(indices, self.device)
        return tuple(array[chosen] for array in self.arrays)

    def _place(self, samples: Samples) -> None:
        tensors = [torch.from_numpy(getattr(samples, name)) for name in FIELDS]
        if not self.arrays:
            self.arrays = [
                torch.empty((self.capacity, *tensor.shape[1:]), dtype=tensor.dtype, device=self.device) for tensor in tensors
            ]
        places = torch.arange(self.arrived, self.arrived + len(samples), device=self.device) % self.capacity
        for array, tensor in zip(self.arrays, tensors, strict=True):
            array[places] = tensor.to(self.device)
        self.arrived += len(samples)


def sent(array: np.ndarray, device: torch.device) -> torch.Tensor:
    """Return an array on a device without waiting for it: a plain copy would stop the GPU at every step."""
    tensor = torch.from_numpy(array)
    return tensor.pin_memory().to(device, non_blocking=True) if device.type == "cuda" else tensor.to(device)


def shard_feeder(store: Store, folder: Path, keep: Callable[[str], bool] = lambda group: True):
    """Return a function that adds the shards that have arrived since it was last called; ``keep`` picks by group.

    Of several processes each takes its own share. Of shards that a store with a capacity has no room for, the oldest are
    never read.
    """
    seen: set[str] = set()

    def refill() -> None:
        new = [path for path in sorted(folder.glob("shard_*.npz")) if path.name not in seen]
        seen.update(path.name for path in new)
        new = [path for path in new if int(path.stem[6:]) % several_gpus.count() == several_gpus.number()]
        room = store.capacity
        for path in new[-max(1, room // shard_length(new[0])) :] if new and room else new:
            samples = load(path)
            chosen = np.flatnonzero([keep(group) for group in samples.group])
            if chosen.size:
                store.add(Samples(**{name: value[chosen] for name, value in vars(samples).items()}))

    return refill


def shard_validation(store: Store, *, batch: int = 64):
    """Return a function network → IoU of each state and mean absolute error of each fraction over a store's samples."""

    def validate(network: nn.Module) -> dict:
        was_training = network.training
        network.eval()
        counts = torch.zeros(16, dtype=torch.long, device=store.device)
        errors = []
        for first in range(0, len(store), batch):
            image, codes, _, _ = store.take(np.arange(first, min(first + batch, len(store))))
            image = grey_of(image)[:, None]
            with (
                torch.inference_mode(),
                torch.autocast(store.device.type, torch.bfloat16, enabled=store.device.type == "cuda"),
            ):
                found = network(image.contiguous(memory_format=torch.channels_last))[0].argmax(1)
            known = codes < STATES
            pairs = codes.long() * 4 + found
            counts += torch.bincount(pairs[known], minlength=16)[:16]
            area = known.sum((1, 2)).clamp(min=1)
            errors.append(
                torch.stack([((found == k) & known).sum((1, 2)) - (codes == k).sum((1, 2)) for k in (1, 2, 3)], 1)
                / area[:, None]
            )
        network.train(was_training)
        iou = intersection_over_union(counts.reshape(4, 4).cpu().numpy())
        mae = torch.cat(errors).abs().mean(0).tolist()
        names = ("valley", "smeared", "scuffed")
        return {f"iou_{name}": round(float(value), 4) for name, value in zip(names, iou[1:], strict=True)} | {
            f"mae_{name}": round(value, 5) for name, value in zip(names, mae, strict=True)
        }

    return validate


def grey_of(image: torch.Tensor) -> torch.Tensor:
    """Return normalised grey values of bytes; the inverse of samples.to_bytes, on the device."""
    return image.float().mul_(2 * INPUT_LIMIT / 255).sub_(INPUT_LIMIT)
