"""One training on several GPUs of one machine: each takes its own samples, all take the same steps.

    torchrun --standalone --nproc-per-node 4 training/train.py …

Every process reads its share of the shards and draws its own batches; gradients are averaged before each step, so that the
steps are those of one GPU with a batch so many times as large. In a plain run every function here does nothing.
"""

import os

import torch
from torch import distributed, nn


def join() -> None:
    """Join the other processes that torchrun started, if it did; each takes the GPU of its number."""
    if "LOCAL_RANK" in os.environ and not distributed.is_initialized():
        if torch.cuda.is_available():
            torch.cuda.set_device(int(os.environ["LOCAL_RANK"]))
        distributed.init_process_group("nccl" if torch.cuda.is_available() else "gloo")


def leave() -> None:
    """Leave the other processes, when all are ready to."""
    if distributed.is_initialized():
        distributed.barrier()
        distributed.destroy_process_group()


def number() -> int:
    """Return this process's number; 0 reports and writes."""
    return distributed.get_rank() if distributed.is_initialized() else 0


def count() -> int:
    return distributed.get_world_size() if distributed.is_initialized() else 1


def average_gradients(network: nn.Module) -> None:
    """Replace every gradient by its mean over all processes."""
    if count() == 1:
        return
    gradients = [parameter.grad for parameter in network.parameters() if parameter.grad is not None]
    flat = torch.cat([gradient.flatten() for gradient in gradients])
    distributed.all_reduce(flat)
    _fill(gradients, flat / count())


def agree(network: nn.Module, spent: float) -> float:
    """Give every process the first one's weights and statistics, and return the first one's ``spent``."""
    if count() == 1:
        return spent
    device = next(network.parameters()).device
    told = torch.tensor([spent], dtype=torch.float64, device=device)
    distributed.broadcast(told, 0)
    floats = [value for value in network.state_dict().values() if value.is_floating_point()]
    flat = torch.cat([value.flatten() for value in floats])
    distributed.broadcast(flat, 0)
    _fill(floats, flat)
    return float(told)


def _fill(tensors: list[torch.Tensor], flat: torch.Tensor) -> None:
    """Fill tensors, one after the other, from one row of numbers."""
    parts = flat.split([tensor.numel() for tensor in tensors])
    torch._foreach_copy_(tensors, [part.view_as(tensor) for part, tensor in zip(parts, tensors, strict=True)])
