"""The training loop: samples on the device, losses, averaged weights, checkpoints that resume at any step.

It trains any network that maps (n, 1, s, s) to (state logits, worn logits, kind logits, embedding, hidden logits); the
peers of the comparison are wrapped to do so.
"""

import csv
import json
import shutil
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
import several_gpus
import torch
from optimisers import Optimisers
from safetensors.torch import save
from samples import BLANK, EMPTY_BYTE, UNKNOWN, Samples, load, shard_length
from torch import nn
from torch.nn import functional

from semwear.errors import ModelError
from semwear.metrics import intersection_over_union
from semwear.network import STATES
from semwear.results import write_whole
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
            image = _grey(image)[:, None]
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


def _grey(image: torch.Tensor) -> torch.Tensor:
    """Return normalised grey values of bytes; the inverse of samples.to_bytes, on the device."""
    return image.float().mul_(2 * INPUT_LIMIT / 255).sub_(INPUT_LIMIT)


def augment(image, codes, worn, rng: np.random.Generator, settings: dict):
    """Mirror, quarter turns, random filters, sharpness, shading, tone curve, gain, offset, noise, hidden patches and inverted
    contrast, on the device.

    Takes bytes (n, s, s); returns image (n, 1, s, s) float32, codes (n, s, s) int64, BLANK in hidden patches too, and worn
    (n, s/16, s/16) uint8. settings: with ``invert_share`` and ``filter_share``.
    """
    count = len(image)
    turns, mirror = int(rng.integers(4)), bool(rng.integers(2))
    image, codes, worn = (torch.rot90(array, turns, (1, 2)) for array in (image, codes, worn))
    if mirror:
        image, codes, worn = (array.flip(2) for array in (image, codes, worn))
    empty = (image == EMPTY_BYTE) & (codes == BLANK)
    image = _grey(image)

    def per_sample(values):
        return sent(np.asarray(values, np.float32), image.device)[:, None, None]

    gain = np.exp(rng.normal(0, 0.2, count)) * np.where(rng.random(count) < settings["invert_share"], -1, 1)
    if settings["filter_share"]:
        image = random_filters(image, rng, settings["filter_share"])
    image = _retouched(image, rng, per_sample)
    image = image + per_sample(rng.normal(0, 0.015, count)) * image.square()
    image = image * per_sample(gain) + per_sample(rng.normal(0, 0.2, count))
    noise = per_sample(np.where(rng.random(count) < 0.5, rng.uniform(0, 0.5, count), 0))
    image = image + noise * torch.randn_like(image)
    image = image.masked_fill(empty, 0.0)
    for number in np.flatnonzero(rng.random(count) < 0.15):
        side = image.shape[-1]
        top, left = rng.integers(0, side, 2)
        window = np.s_[
            number, top : top + int(rng.integers(4, side // 4)), left : left + int(rng.integers(4, side // 3))
        ]
        image[window] = 0
        codes[window] = BLANK
    return image.clamp(-INPUT_LIMIT, INPUT_LIMIT)[:, None], codes.long(), worn


def random_filters(image: torch.Tensor, rng: np.random.Generator, share: float) -> torch.Tensor:
    """Mix in what a small random filter makes of the picture, in a share of the samples: other relief, other grain, the same
    shapes (Xu et al., 2021, arXiv 2007.13003). image: (n, s, s) float32; so is what is returned."""
    count, length = len(image), int(rng.choice([3, 5, 7]))
    kernels = sent(rng.normal(0, 1, (count, 1, length, length)).astype(np.float32), image.device)
    padded = functional.pad(image[None], (length // 2,) * 4, mode="reflect")
    reply = functional.conv2d(padded, kernels, groups=count)[0]
    reply = reply - reply.mean((1, 2), keepdim=True)
    spread = image.std((1, 2), keepdim=True) / reply.std((1, 2), keepdim=True).clamp(min=1e-6)
    upright = (reply * image).sum((1, 2), keepdim=True).sign()  # inverted contrast has a share of its own
    mix = np.where(rng.random(count) < share, rng.uniform(0, 0.7, count), 0).astype(np.float32)
    mix = sent(mix, image.device)[:, None, None]
    return image * (1 - mix) + mix * upright * spread * reply


def _retouched(image, rng: np.random.Generator, per_sample) -> torch.Tensor:
    """Sharpen or soften at one length, and let brightness and contrast drift over the picture, in half of the samples."""
    count, side = len(image), image.shape[-1]
    length = int(rng.choice([3, 5, 9, 17]))
    smooth = functional.avg_pool2d(image[:, None], length, 1, length // 2, count_include_pad=False)[:, 0]
    strength = np.where(rng.random(count) < 0.5, rng.uniform(-0.7, 0.8, count), 0)
    image = image + per_sample(strength) * (image - smooth)
    knots = sent(rng.normal(0, 1, (count, 2, 4, 4)).astype(np.float32), image.device)
    drift = functional.interpolate(knots, size=(side, side), mode="bilinear", align_corners=True)
    amount = np.where(rng.random(count) < 0.5, rng.uniform(0, 0.25, count), 0)
    return image * (1 + per_sample(amount) * drift[:, 0].clamp(-1.5, 1.5)) + per_sample(amount) * drift[:, 1]


def losses(network_output, codes, worn, kind, settings: dict) -> torch.Tensor:
    """Cross entropy plus soft Dice of the states and of what hides them, cross entropy of the worn grid and of the kind
    of picture."""
    logits, worn_logits, kind_logits, _, hidden_logits = network_output
    logits = _at_least_single(logits)
    known = codes < STATES
    total = functional.cross_entropy(logits, codes.where(known, -100), ignore_index=-100, reduction="sum")
    total = total / known.sum().clamp(min=1)
    total = total + settings["dice_weight"] * soft_dice_loss(logits, codes)
    if worn_logits is not None:
        known_worn = worn != UNKNOWN
        worn_loss = functional.binary_cross_entropy_with_logits(
            _at_least_single(worn_logits[:, 0]), worn.to(logits.dtype).clamp(max=1), reduction="none"
        )
        total = total + settings["worn_weight"] * (worn_loss * known_worn).sum() / known_worn.sum().clamp(min=1)
        total = total + settings["kind_weight"] * functional.binary_cross_entropy_with_logits(
            _at_least_single(kind_logits), kind.to(_at_least_single(kind_logits).dtype)
        )
        total = total + settings["hidden_weight"] * hidden_loss(_at_least_single(hidden_logits[:, 0]), codes, kind)
    return total


def hidden_loss(logits: torch.Tensor, codes: torch.Tensor, kind: torch.Tensor) -> torch.Tensor:
    """Cross entropy plus soft Dice of the hidden pixels of liner surfaces; makers mark debris and charging as unknown."""
    counted = ((codes != BLANK) & (kind == 1)[:, None, None]).to(logits.dtype)
    target = (codes == UNKNOWN).to(logits.dtype)
    each = functional.binary_cross_entropy_with_logits(logits, target, reduction="none")
    probability = torch.sigmoid(logits) * counted
    overlap = (probability * target).sum()
    dice = (2 * overlap + 1) / (probability.sum() + (target * counted).sum() + 1)
    return (each * counted).sum() / counted.sum().clamp(min=1) + 1 - dice


def _at_least_single(logits: torch.Tensor) -> torch.Tensor:
    return logits.float() if logits.dtype in (torch.bfloat16, torch.float16) else logits


def soft_dice_loss(logits: torch.Tensor, codes: torch.Tensor) -> torch.Tensor:
    """1 − mean soft Dice over the states present in the batch (Milletari et al., 2016, arXiv 1606.04797)."""
    probabilities = torch.softmax(logits, 1)
    known = (codes < STATES).unsqueeze(1)
    target = functional.one_hot(codes.clamp(max=3), 4).movedim(-1, 1) * known
    probabilities = probabilities * known
    axes = (0, 2, 3)
    overlap = (probabilities * target).sum(axes)
    size = probabilities.sum(axes) + target.sum(axes)
    present = (target.sum(axes) > 0).to(probabilities.dtype)
    dice = (2 * overlap + 1) / (size + 1)
    return ((1 - dice) * present).sum() / present.sum().clamp(min=1)


@dataclass(kw_only=True)
class _Slice:
    """One slice of a run, from where it was resumed until it ends or waits to be continued."""

    averaged: dict  # weights, a running mean over the steps
    first: int = 0  # step that it begins at
    before: float = 0.0  # seconds that the slices before it took
    started: float = field(default_factory=time.monotonic)
    saved: float = field(default_factory=time.monotonic)  # when the last checkpoint was written
    losses: list = field(default_factory=list)  # of the steps since the last report


@dataclass(kw_only=True)
class Trainer:
    """A training run in a folder: checkpoint.pt, log.csv. ``run`` goes on from the checkpoint until the last step.

    ``made_from`` says by name what the run is made from; a checkpoint that was made from anything else is refused. None
    takes every checkpoint that fits the network.
    """

    network: nn.Module
    store: Store
    settings: dict
    folder: Path
    seed: int
    refill: Callable[[], None] = lambda: None
    validate: Callable[[nn.Module], dict] = lambda network: {}
    replay: Store | None = None
    freeze_normalisation: bool = False
    seconds: float = float("inf")  # of this slice; then the run waits to be continued
    whole_seconds: float = float("inf")  # of the run over all its slices; the learning rate runs out with them, too
    made_from: dict | None = None
    figures: dict = field(default_factory=dict)  # of the last report

    def run(self) -> bool:
        """Train until the last step or the end of the whole time, or until the slice ends; return whether the run is over."""
        settings, steps = self.settings, self.settings["steps"]
        network = self.network.to(self.store.device)
        functions = self._compiled(network)
        optimiser = Optimisers(
            network, lr=settings["learning_rate"], weight_decay=settings["weight_decay"], muon=settings["muon"]
        )
        part = self._resumed(optimiser)
        over, spent = part.first >= steps, 0.0  # over: a run that was complete when it was started again
        for step in range(part.first, steps):
            if step % 50 == 0:
                self.refill()
            if several_gpus.count() == 1 or step % 50 == 0:
                spent = several_gpus.agree(network, time.monotonic() - part.started)
            share = (part.before + spent) / max(self.whole_seconds, 1e-9)
            loss = self._step(step, share, functions, optimiser)
            _average(part.averaged, network, min(settings["average_decay"], (1 + step) / (10 + step)))
            over = step + 1 == steps or share >= 1
            last = over or spent >= self.seconds
            if several_gpus.number() == 0:
                part.losses.append(loss)
                self._record(step + 1, part, optimiser, last=last)
            if last:
                break
        network.load_state_dict(part.averaged)
        return over

    def _compiled(self, network: nn.Module) -> tuple[Callable, Callable]:
        """Return network and losses, as fused kernels only in a long run on a GPU, which is worth their minute of compiling."""
        if self.settings.get("compiled") and self.store.device.type == "cuda":
            return torch.compile(network), torch.compile(losses)
        return network, losses

    def _resumed(self, optimiser: Optimisers) -> _Slice:
        """Return the slice of the run that begins now, after network and optimiser went back to the checkpoint, if there is one."""
        path = self.folder / "checkpoint.pt"
        self.folder.mkdir(parents=True, exist_ok=True)
        if not path.exists():
            return _Slice(averaged={name: value.detach().clone() for name, value in self.network.state_dict().items()})
        state = torch.load(path, map_location=self.store.device, weights_only=True)
        check_made_from(path, state.get("made_from"), self.made_from)
        try:
            self.network.load_state_dict(state["network"])
            optimiser.load_state_dict(state["optimiser"])
        except (RuntimeError, ValueError, KeyError) as error:
            raise ModelError(
                f"{path}: this is the checkpoint of another network or optimiser; delete its folder or choose another --out"
            ) from error
        first = int(state["step"])
        self.figures = state.get("figures") or {"step": first}
        done = f"complete at step {first} already, nothing is trained"
        print(done if first >= self.settings["steps"] else f"resuming at step {first}", flush=True)
        return _Slice(averaged=state["averaged"], first=first, before=float(state["seconds"]))

    def _step(self, step: int, share: float, functions: tuple[Callable, Callable], optimiser: Optimisers) -> torch.Tensor:
        """Take one step, ``share`` of the whole time being spent, and return its loss; all chance follows from seed and step."""
        settings, device, network, process = self.settings, self.store.device, self.network, several_gpus.number()
        trained, loss_of = functions
        rng = np.random.default_rng([self.seed, step, process] if process else [self.seed, step])
        torch.manual_seed(self.seed * 1_000_003 + step + process * 1_000_000_007)
        optimiser.set_rate(float(settings["learning_rate"] * _schedule(step, settings, share)))
        image, codes, worn, kind = self._batch(rng)
        image, codes, worn = augment(image, codes, worn, rng, settings)
        network.train()
        if self.freeze_normalisation:
            for module in network.modules():
                if isinstance(module, nn.BatchNorm2d):
                    module.eval()
        with torch.autocast(device.type, torch.bfloat16, enabled=device.type == "cuda"):
            output = trained(image.contiguous(memory_format=torch.channels_last))
            loss = loss_of(output, codes, worn, kind, settings)
        network.zero_grad(set_to_none=True)
        loss.backward()
        several_gpus.average_gradients(network)
        nn.utils.clip_grad_norm_(network.parameters(), 2.0)
        optimiser.step()
        return loss.detach()

    def _batch(self, rng: np.random.Generator):
        count = self.settings["batch"]
        old = int(round(count * self.settings.get("replay_share", 0))) if self.replay else 0
        batch = self.store.take(rng.integers(0, len(self.store), count - old))
        if not old:
            return batch
        replayed = self.replay.take(rng.integers(0, len(self.replay), old))
        return tuple(torch.cat(pair) for pair in zip(batch, replayed, strict=True))

    def _record(self, step: int, part: _Slice, optimiser: Optimisers, *, last: bool) -> None:
        """Report and write the checkpoint after a step, each when it is due, and both after the last."""
        now = time.monotonic()
        if step % self.settings["report_steps"] == 0 or last:
            loss, ends = float(torch.stack(part.losses).mean()), min(self.seconds, self.whole_seconds - part.before)
            self._report(step, loss, now - part.started, ends, part.first, part.averaged)
            part.losses = []
        if now - part.saved > self.settings["checkpoint_seconds"] or last:
            part.saved = now
            told = {"step": step, "seconds": part.before + now - part.started, "figures": self.figures}
            told["made_from"] = self.made_from
            _checkpoint(self.folder / "checkpoint.pt", self.network, part.averaged, optimiser, told)

    def _report(self, step: int, loss: float, seconds: float, ends: float, first: int, averaged: dict) -> None:
        live = {name: value.detach().clone() for name, value in self.network.state_dict().items()}
        self.network.load_state_dict(averaged)
        figures = {"step": step, "loss": round(loss, 5), "samples": len(self.store)} | self.validate(self.network)
        self.figures = figures
        self.network.load_state_dict(live)
        rate = (step - first) / max(seconds, 1e-9)
        left = max(0.0, min((self.settings["steps"] - step) / max(rate, 1e-9), ends - seconds))
        print(f"{json.dumps(figures)}  {rate:.1f} steps/s, {left / 60:.1f} min left", flush=True)
        path = self.folder / "log.csv"
        new = not path.exists()
        with open(path, "a", newline="", encoding="utf-8") as stream:
            writer = csv.DictWriter(stream, figures)
            if new:
                writer.writeheader()
            writer.writerow(figures)


def train_for(
    seconds: float, network: nn.Module, *, store: Store, settings: dict, folder: Path, refill: Callable[[], None]
) -> nn.Module:
    """Train a network from the start for a time in place of a number of steps, for comparisons; return it.

    The learning rate runs out with the time, and the statistics of normalisation are taken anew at the end. What an
    earlier run left in the folder goes.
    """
    shutil.rmtree(folder, ignore_errors=True)
    plan = settings | {"steps": 10**9, "warmup_steps": 100, "compiled": False}
    trainer = Trainer(
        network=network, store=store, settings=plan, folder=folder, seed=1, refill=refill, whole_seconds=seconds
    )
    trainer.run()
    settle(trainer.network, store, batches=40, batch=16, settings=settings)
    return trainer.network


def settle(network: nn.Module, store: Store, *, batches: int, batch: int, settings: dict) -> None:
    """Take the statistics of batch normalisation anew from samples: after a short training they lag far behind the
    weights, more so the slower a network averages them."""
    layers = [module for module in network.modules() if isinstance(module, nn.BatchNorm2d)]
    momenta = [layer.momentum for layer in layers]
    for layer in layers:
        layer.reset_running_stats()
        layer.momentum = None  # a plain mean over all batches
    network.train()
    with torch.no_grad():
        for number in range(batches):
            rng = np.random.default_rng([7, number])
            image, codes, worn, _ = store.take(rng.integers(0, len(store), batch))
            network(augment(image, codes, worn, rng, settings)[0])
    for layer, momentum in zip(layers, momenta, strict=True):
        layer.momentum = momentum
    network.eval()


def _schedule(step: int, settings: dict, spent: float = 0.0) -> float:
    """Linear warm-up, then half a cosine down to 1 % of the learning rate, by steps or by the share of time spent."""
    warmup = settings["warmup_steps"]
    if step < warmup:
        return (step + 1) / warmup
    share = min(1.0, max((step - warmup) / max(1, settings["steps"] - warmup), spent))
    return 0.01 + 0.99 * 0.5 * (1 + np.cos(np.pi * share))


@torch.no_grad()
def _average(averaged: dict, network: nn.Module, decay: float) -> None:
    floats_old, floats_new = [], []
    for name, value in network.state_dict().items():
        if value.dtype.is_floating_point:
            floats_old.append(averaged[name])
            floats_new.append(value)
        else:
            averaged[name].copy_(value)
    torch._foreach_lerp_(floats_old, floats_new, 1 - decay)


def _checkpoint(path: Path, network: nn.Module, averaged: dict, optimiser, told: dict) -> None:
    weights = {name: value.detach().cpu().contiguous() for name, value in averaged.items()}
    write_whole(path.with_name("averaged.safetensors"), save(weights))
    partial = path.with_suffix(".part")
    state = {"network": network.state_dict(), "averaged": averaged, "optimiser": optimiser.state_dict()}
    torch.save(state | told, partial)
    partial.replace(path)


def check_made_from(path: Path, before: dict | None, now: dict | None) -> None:
    """Raise ModelError where a checkpoint was made from other things than the run that would go on from it.

    Both say by name what they are made from. An older checkpoint that says nothing is refused to runs with labels only; a
    run that says nothing takes every checkpoint.
    """
    if now is None or (before is None and not now.get("labels")):
        return
    remedy = f"delete the folder {path.parent} or choose another --out"
    if before is None:
        raise ModelError(f"{path}: this older checkpoint doesn't say which labels it was trained on; {remedy}")
    other = [name for name in {**now, **before} if now.get(name) != before.get(name)]
    if other:
        raise ModelError(f"{path}: the run of this name was made from something else ({', '.join(other)}); {remedy}")
