"""The training loop: steps, averaged weights, checkpoints that resume at any step.

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
from batch_augment import augment
from losses import losses
from optimisers import Optimisers
from safetensors.torch import save
from store import Store
from torch import nn

from semwear.errors import ModelError
from semwear.results import write_whole


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
