"""What a training makes least: cross entropy and soft Dice of the states, of what hides them, of worn regions and kinds of picture."""

import torch
from samples import BLANK, UNKNOWN
from torch.nn import functional

from semwear.network import STATES


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
