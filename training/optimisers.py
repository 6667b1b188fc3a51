"""The optimiser of a training: AdamW, or Muon for the convolutions and AdamW for everything else.

Muon (Jordan et al., 2024, kellerjordan.github.io/posts/muon) takes the nearest matrix with equal singular values in place
of the momentum of a weight matrix, so that rare directions are learned as fast as common ones; its steps are scaled to
AdamW's usual size (Liu et al., 2025, arXiv 2502.16982). A convolution counts as the matrix channels out × (channels in ×
window).

The steps are those of torch.optim.Muon, to the last digit; but matrices of one shape go together, which a small network
needs: one at a time, the fifty matrices keep a GPU waiting for two fifths of the training.
"""

import torch
from torch import nn

MOMENTUM = 0.95
ITERATIONS, COEFFICIENTS = 5, (3.4445, -4.7750, 2.0315)
"""Of the Newton–Schulz iteration (Jordan et al., 2024)."""


class ConvolutionMuon(torch.optim.Optimizer):
    """Muon for convolution weights (out, in, rows, cols), with Nesterov's momentum."""

    def __init__(self, weights: list[nn.Parameter], *, lr: float, weight_decay: float) -> None:
        super().__init__(weights, {"lr": lr, "weight_decay": weight_decay})
        self.bundles: dict[tuple[int, int], list[nn.Parameter]] = {}
        for weight in weights:
            self.bundles.setdefault((len(weight), weight[0].numel()), []).append(weight)

    @torch.no_grad()
    def step(self, closure=None) -> None:
        rate, decay = self.param_groups[0]["lr"], self.param_groups[0]["weight_decay"]
        for shape, weights in self.bundles.items():
            gradients = torch.stack([weight.grad.flatten(1) for weight in weights])
            kept = self.state[weights[0]]  # one for the bundle
            if not kept:
                kept["momentum"] = torch.zeros_like(gradients)
            kept["momentum"].lerp_(gradients, 1 - MOMENTUM)
            steps = nearest_orthogonal(gradients.lerp(kept["momentum"], MOMENTUM)).float()
            torch._foreach_mul_(weights, 1 - rate * decay)
            steps = [step.view_as(weight) for step, weight in zip(steps, weights, strict=True)]
            torch._foreach_add_(weights, steps, alpha=-rate * 0.2 * max(shape) ** 0.5)


def nearest_orthogonal(matrices: torch.Tensor) -> torch.Tensor:
    """Return about U·Vᵀ of each matrix U·S·Vᵀ in (n, rows, cols), bfloat16; singular values come out at 0.7 to 1.2."""
    first, cubic, fifth = COEFFICIENTS
    tall = matrices.shape[1] > matrices.shape[2]
    found = (matrices.mT if tall else matrices).bfloat16()
    found = found / found.norm(dim=(1, 2), keepdim=True).clamp(min=1e-7)
    for _ in range(ITERATIONS):
        gram = found @ found.mT
        found = torch.baddbmm(found, torch.baddbmm(gram, gram, gram, beta=cubic, alpha=fifth), found, beta=first)
    return found.mT if tall else found


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
