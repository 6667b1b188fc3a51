"""Claims about training in several processes; here two on the processor, where the GPUs would be."""

import os
import socket

import pytest
import several_gpus
import torch
from torch import distributed, multiprocessing, nn
from torch.nn.parallel import DistributedDataParallel


def network() -> nn.Sequential:
    torch.manual_seed(3)
    return nn.Sequential(nn.Conv2d(1, 4, 3), nn.BatchNorm2d(4), nn.ReLU(), nn.Conv2d(4, 2, 1))


def batch(process: int) -> torch.Tensor:
    return torch.randn(5, 1, 8, 8, generator=torch.Generator().manual_seed(process))


def gradients_in_process(process: int, folder: str, port: int) -> None:
    os.environ |= {"LOCAL_RANK": str(process), "RANK": str(process), "WORLD_SIZE": "2"}
    os.environ |= {"MASTER_ADDR": "127.0.0.1", "MASTER_PORT": str(port), "CUDA_VISIBLE_DEVICES": ""}
    several_gpus.join()
    ours, theirs = network(), DistributedDataParallel(network())
    for trained in (ours, theirs):
        trained(batch(process)).square().mean().backward()
    several_gpus.average_gradients(ours)
    pairs = zip(ours.parameters(), theirs.module.parameters(), strict=True)
    same = all(torch.allclose(one.grad, other.grad, atol=1e-7) for one, other in pairs)
    ours[1].running_mean.fill_(process)
    told = several_gpus.agree(ours, 10.0 + process)
    torch.save((same, told, ours[1].running_mean, several_gpus.count()), f"{folder}/{process}.pt")
    distributed.barrier()
    os._exit(0)  # what the processor's connections leave behind may abort the usual end of a process


@pytest.fixture(scope="module")
def found(tmp_path_factory):
    folder = tmp_path_factory.mktemp("processes")
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    multiprocessing.spawn(gradients_in_process, (str(folder), port), nprocs=2)
    return [torch.load(folder / f"{process}.pt", weights_only=True) for process in (0, 1)]


def test_averaged_gradients_are_those_of_torch_s_own_distributed_training(found):
    """Expected: torch.nn.parallel.DistributedDataParallel on the same batches."""
    assert [each[0] for each in found] == [True, True]


def test_all_take_the_first_one_s_clock_and_statistics(found):
    assert [each[1] for each in found] == [10.0, 10.0]
    assert all(float(each[2].abs().max()) == 0 for each in found)


def test_a_plain_run_is_left_alone():
    alone = network()
    alone(batch(0)).square().mean().backward()
    before = [parameter.grad.clone() for parameter in alone.parameters()]
    several_gpus.average_gradients(alone)
    assert not distributed.is_initialized()
    assert all(torch.equal(one, other.grad) for one, other in zip(before, alone.parameters(), strict=True))
    assert several_gpus.agree(alone, 7.0) == 7.0
