"""The optimiser of convolutions takes the step that the singular values of the gradient promise."""

import torch
from optimisers import ConvolutionMuon, Optimisers
from torch import nn

RATE = 0.01


def test_a_step_has_the_gradients_singular_vectors_and_nearly_equal_singular_values():
    """Expected: U·Vᵀ of the gradient by torch.linalg.svd. Jordan et al. (2024) give singular values of 0.7 to 1.2 after
    five iterations for all but tiny ones; Liu et al. (2025, arXiv 2502.16982) scale the step by 0.2·√(longer side)."""
    torch.manual_seed(3)
    layer = nn.Conv2d(6, 16, 3, bias=False)
    before = layer.weight.detach().clone()
    layer.weight.grad = torch.randn_like(layer.weight)
    ConvolutionMuon([layer.weight], lr=RATE, weight_decay=0.0).step()
    step = (before - layer.weight.detach()).flatten(1) / (RATE * 0.2 * (6 * 9) ** 0.5)
    u, _, vt = torch.linalg.svd(layer.weight.grad.flatten(1), full_matrices=False)
    along = u.T @ step @ vt.T
    assert along.diagonal().min() > 0.6 and along.diagonal().max() < 1.3
    assert (along - along.diagonal().diag()).abs().max() < 0.03  # bfloat16 inside


def test_steps_are_those_of_the_library():
    """Expected: torch.optim.Muon, one matrix at a time."""
    torch.manual_seed(4)
    shapes = [(8, 4, 3, 3), (8, 4, 3, 3), (4, 8, 1, 1), (16, 2, 1, 1)]
    ours = [nn.Parameter(torch.randn(shape)) for shape in shapes]
    theirs = [nn.Parameter(weight.detach().flatten(1).clone()) for weight in ours]
    both = (
        ConvolutionMuon(ours, lr=RATE, weight_decay=0.02),
        torch.optim.Muon(theirs, lr=RATE, weight_decay=0.02, adjust_lr_fn="match_rms_adamw"),
    )
    for _ in range(3):
        for weight, matrix in zip(ours, theirs, strict=True):
            weight.grad = torch.randn_like(weight)
            matrix.grad = weight.grad.flatten(1)
        for optimiser in both:
            optimiser.step()
    for weight, matrix in zip(ours, theirs, strict=True):
        torch.testing.assert_close(weight.detach().flatten(1), matrix.detach(), atol=1e-4, rtol=1e-3)


def test_convolutions_go_to_one_optimiser_and_the_rest_to_the_other():
    network = nn.Sequential(nn.Conv2d(2, 4, 3), nn.BatchNorm2d(4), nn.Conv2d(4, 4, 3, groups=4), nn.Conv2d(4, 1, 1))
    both = Optimisers(network, lr=RATE, weight_decay=0.0, muon=True)
    adam, muon = (sum(p.numel() for group in each.param_groups for p in group["params"]) for each in both.each)
    assert muon == 4 * 2 * 9
    assert adam + muon == sum(p.numel() for p in network.parameters())
    assert len(Optimisers(network, lr=RATE, weight_decay=0.0, muon=False).each) == 1
