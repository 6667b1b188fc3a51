"""The optimiser of a training: AdamW, or Muon for the convolutions and AdamW for everything else.

Muon (Jordan et al., 2024, kellerjordan.github.io/posts/muon) takes the nearest matrix with equal singular values in place
of the momentum of a weight matrix, so that rare directions are learned as fast as common ones; its steps are scaled to
AdamW's usual size (Liu et al., 2025, arXiv 2502.16982). A convolution counts as the matrix channels out × (channels in ×
window).
"""

import torch
from torch import nn


class ConvolutionMuon(torch.optim.Muon):
    """torch.optim.Muon, which takes matrices only, for convolution weights (out, in, rows, cols)."""

    def __init__(self, weights: list[nn.Parameter], *, lr: float, weight_decay: float) -> None:
        self.pairs = [(weight, nn.Parameter(weight.detach().view(len(weight), -1))) for weight in weights]
        matrices = [matrix for _, matrix in self.pairs]  # they share the weights' memory
        super().__init__(matrices, lr=lr, weight_decay=weight_decay, adjust_lr_fn="match_rms_adamw")

    def step(self, closure=None):
        for weight, matrix in self.pairs:
            matrix.grad = None if weight.grad is None else weight.grad.flatten(1)
        return super().step(closure)


class Optimisers:
    """One or two optimisers behind the few methods that the training loop uses."""

    def __init__(self, network: nn.Module, *, lr: float, weight_decay: float, muon: bool) -> None:
        weights = [module.weight for module in network.modules() if muon and _mixes_channels(module)]
        taken = {id(weight) for weight in weights}
        rest = [parameter for parameter in network.parameters() if id(parameter) not in taken]
        on_gpu = all(parameter.is_cuda for parameter in rest)
        self.each = [torch.optim.AdamW(rest, lr=lr, weight_decay=weight_decay, fused=on_gpu)]
        if weights:
            self.each.append(ConvolutionMuon(weights, lr=lr, weight_decay=weight_decay))

    def set_rate(self, rate: float) -> None:
        for optimiser in self.each:
            for group in optimiser.param_groups:
                group["lr"] = rate

    def step(self) -> None:
        for optimiser in self.each:
            optimiser.step()

    def state_dict(self) -> list[dict]:
        return [optimiser.state_dict() for optimiser in self.each]

    def load_state_dict(self, states: list[dict]) -> None:
        for optimiser, state in zip(self.each, states, strict=True):
            optimiser.load_state_dict(state)


def _mixes_channels(module: nn.Module) -> bool:
    """Whether a module is a convolution from several channels to several others."""
    return isinstance(module, nn.Conv2d) and module.groups == 1 and min(module.in_channels, module.out_channels) > 1
