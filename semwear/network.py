"""The compact fully convolutional network, and the only module that imports torch.

One shared encoder and decoder give all outputs: for every pixel the logits of the four surface states (in the order
of :class:`semwear.terms.MaskCode`, plateau, open valley, smeared, scuffed), and on a grid of 16 × 16 pixels the logit
that the surface there is worn. Another map says where something hides the surface (debris, charging): those pixels are
not assessed. A last, pooled output says whether the picture shows a honed or run liner surface at
all; together with the embedding it serves the distance from the training fields.

The encoder is a small residual pyramid (He et al., 2016, arXiv 1512.03385) and the decoder adds lateral connections
top-down (Lin et al., 2017, arXiv 1612.03144). What a wide neighbourhood looks like on the whole weighs the decoder's
channels (Hu et al., 2018, arXiv 1810.12348): whether dark means open or bright means smeared is a picture's own
convention, which no single groove tells. The state logits are brought to full size by sub-pixel rearrangement
(Shi et al., 2016, arXiv 1609.05158). Convolutions are dense with channel counts in multiples of 16, which two CPU cores
run faster than depthwise ones of the same size.

Weights are read from safetensors files, which hold numbers only: loading a model never runs code from it.
"""

import copy
from pathlib import Path

import numpy as np
import torch
from safetensors import SafetensorError
from safetensors.torch import load_file, save
from torch import nn
from torch.nn import functional
from torchvision.ops import Conv2dNormActivation

from semwear.errors import ModelError
from semwear.results import write_whole

STATES = 4
"""Number of surface states that the network tells apart."""
STRIDE_PX = 32
"""The network pads pictures to a multiple of this many pixels."""
WORN_STRIDE_PX = 16
"""Pixels per cell of the worn-logit grid."""
SURROUNDINGS_CELLS = 15
"""Side of the neighbourhood that weighs the decoder's channels, in cells of 32 pixels (odd): about a training sample."""
TURNS = {1: (), 2: ((2, 3),), 4: ((2, 3), (2,), (3,))}
"""Axes of (n, 1, rows, cols) along which a picture is turned round for further looks at it, by the number of looks."""
DEFAULT_WIDTHS = (16, 32, 64, 96, 160)
"""Channels at 1/2, 1/4, 1/8, 1/16 and 1/32 of the picture's resolution."""


def _convolution(channels_in: int, channels_out: int, *, stride: int = 1, dilation: int = 1, size: int = 3):
    return Conv2dNormActivation(channels_in, channels_out, kernel_size=size, stride=stride, dilation=dilation)


class _Residual(nn.Module):
    """Two 3 × 3 convolutions added to their input."""

    def __init__(self, channels: int, dilation: int = 1) -> None:
        super().__init__()
        self.first = _convolution(channels, channels, dilation=dilation)
        self.second = Conv2dNormActivation(
            channels, channels, kernel_size=3, dilation=dilation, activation_layer=None
        )

    def forward(self, features: torch.Tensor) -> torch.Tensor:
        return self.second(self.first(features)).add_(features).relu_()


class _Merge(nn.Module):
    """Bring coarse features to the finer grid, add the finer ones, and mix."""

    def __init__(self, coarse: int, fine: int, residual: bool) -> None:
        super().__init__()
        self.narrow = _convolution(coarse, fine, size=1)
        self.mix = _Residual(fine) if residual else _convolution(fine, fine)

    def forward(self, coarse: torch.Tensor, fine: torch.Tensor) -> torch.Tensor:
        raised = functional.interpolate(self.narrow(coarse), scale_factor=2.0, mode="nearest")
        return self.mix(raised.add_(fine))


class _FullSize(nn.Module):
    """Four channels a pixel brought to 2 × 2 pixels, as nn.PixelShuffle(2) does, which takes five times as long here."""

    def forward(self, features: torch.Tensor) -> torch.Tensor:
        count, channels, rows, cols = features.shape
        parted = features.unflatten(1, (channels // 4, 2, 2)).permute(0, 1, 4, 2, 5, 3)
        return parted.reshape(count, channels // 4, 2 * rows, 2 * cols)


class _Gate(nn.Module):
    """Weigh channels by what a wide neighbourhood looks like."""

    def __init__(self, coarse: int, channels: int) -> None:
        super().__init__()
        self.excite = nn.Conv2d(coarse, channels, 1)

    def forward(self, features: torch.Tensor, surroundings: torch.Tensor) -> torch.Tensor:
        weight = 2 * torch.sigmoid(self.excite(surroundings))
        scale = features.shape[-1] // surroundings.shape[-1]
        return features * (functional.interpolate(weight, scale_factor=float(scale)) if scale > 1 else weight)


class FieldNetwork(nn.Module):
    """Pixel states, worn grid and kind of picture from one normalised grey picture.

    Input: float tensor (n, 1, rows, cols), rows and cols multiples of :data:`STRIDE_PX`, zero mean and unit robust
    spread, at one of the model's working pixel sizes. Output of :meth:`forward`: state logits (n, 4, rows, cols), worn
    logits (n, 1, rows / 16, cols / 16), kind logit (n,) (positive: a liner surface), embedding (n, e), logits of hidden
    pixels (n, 1, rows, cols) (positive: something hides the surface).
    """

    def __init__(self, widths: tuple[int, ...] = DEFAULT_WIDTHS) -> None:
        super().__init__()
        half, quarter, eighth, sixteenth, deepest = widths
        self.widths = tuple(widths)
        self.stem = nn.Sequential(nn.PixelUnshuffle(2), _convolution(4, half), _convolution(half, half))
        self.down_quarter = nn.Sequential(_convolution(half, quarter, stride=2), _Residual(quarter))
        self.down_eighth = nn.Sequential(_convolution(quarter, eighth, stride=2), _Residual(eighth), _Residual(eighth))
        self.down_sixteenth = nn.Sequential(
            _convolution(eighth, sixteenth, stride=2),
            *(_Residual(sixteenth, dilation=reach) for reach in (1, 2, 4)),
        )
        self.down_deepest = nn.Sequential(
            _convolution(sixteenth, deepest, stride=2), *(_Residual(deepest, dilation=reach) for reach in (1, 2, 2))
        )
        self.up_sixteenth = _Merge(deepest, sixteenth, residual=True)
        self.up_eighth = _Merge(sixteenth, eighth, residual=True)
        self.up_quarter = _Merge(eighth, quarter, residual=True)
        self.up_half = _Merge(quarter, half, residual=False)
        self.gates = nn.ModuleList(_Gate(deepest, channels) for channels in (deepest, sixteenth, eighth, quarter))
        self.states = nn.Sequential(nn.Conv2d(half, STATES * 4, 3, padding=1), _FullSize())
        self.hidden = nn.Sequential(nn.Conv2d(half, 4, 3, padding=1), _FullSize())
        self.worn = nn.Conv2d(sixteenth, 1, 1)
        self.kind = nn.Linear(2 * deepest, 1)

    def forward(self, image: torch.Tensor):
        half = self.stem(image)
        quarter = self.down_quarter(half)
        eighth = self.down_eighth(quarter)
        sixteenth = self.down_sixteenth(eighth)
        deepest = self.down_deepest(sixteenth)
        spread = deepest.flatten(2).to(self.kind.weight.dtype)
        embedding = torch.cat([spread.mean(2), spread.std(2, correction=0)], dim=1)
        around = _surroundings(deepest)
        at_deepest, at_sixteenth, at_eighth, at_quarter = self.gates
        raised = at_sixteenth(self.up_sixteenth(at_deepest(deepest, around), sixteenth), around)
        fine = at_eighth(self.up_eighth(raised, eighth), around)
        fine = at_quarter(self.up_quarter(fine, quarter), around)
        finest = self.up_half(fine, half)
        return self.states(finest), self.worn(raised), self.kind(embedding)[:, 0], embedding, self.hidden(finest)


def _surroundings(features: torch.Tensor) -> torch.Tensor:
    """Return the mean of the features around every cell, (n, channels, rows, cols); at the edges of fewer cells."""
    side, reach = SURROUNDINGS_CELLS, SURROUNDINGS_CELLS // 2
    rows = functional.avg_pool2d(features, (side, 1), 1, (reach, 0), count_include_pad=False)
    return functional.avg_pool2d(rows, (1, side), 1, (0, reach), count_include_pad=False)


def parameter_count(network: nn.Module) -> int:
    """Return the number of trainable numbers of a network.

    >>> parameter_count(FieldNetwork()) < 3_000_000
    True
    """
    return sum(parameter.numel() for parameter in network.parameters() if parameter.requires_grad)


def save_weights(network: nn.Module, path: Path) -> None:
    """Write the weights as a safetensors file, without any code."""
    weights = {name: tensor.detach().cpu().contiguous() for name, tensor in network.state_dict().items()}
    write_whole(path, save(weights), elsewhere="name another model folder")


def load_network(path: Path, widths: tuple[int, ...]) -> FieldNetwork:
    """Build the network and fill it from a safetensors file; raises ModelError where they don't fit."""
    network = FieldNetwork(widths)
    try:
        network.load_state_dict(load_file(str(path)))
    except (OSError, SafetensorError, RuntimeError) as error:
        raise ModelError(
            f"{path}: these weights can't be loaded ({' '.join(str(error).split())[:200]}); "
            "train again or restore the model folder"
        ) from error
    return network.eval()


def reduced_precision_pays() -> bool:
    """Return whether this processor is known to multiply bfloat16 numbers by instructions of its own, twice as fast as float32."""
    found = getattr(torch.cpu, "get_capabilities", dict)()  # versions of torch before it can't tell
    return bool(found.get("avx512_bf16") or found.get("amx_bf16"))


class _OnTorch:
    """A network with its normalisation folded in, run by torch, channels last, on a graphics processor or in bfloat16."""

    def __init__(self, folded: nn.Module, device: str, dtype: torch.dtype) -> None:
        self.device, self.dtype = torch.device(device), dtype
        self.network = folded.to(self.device, dtype, memory_format=torch.channels_last).eval()
        self.network.kind.float()  # embedding and kind, which limits are set on, are reckoned in single precision

    def __call__(self, picture: torch.Tensor) -> tuple[torch.Tensor, ...]:
        return self.network(picture.to(self.device, self.dtype).contiguous(memory_format=torch.channels_last))


class _OnProcessor:
    """The same in single precision by onnxruntime, which is quicker than torch on processors without 512-bit vectors."""

    def __init__(self, folded: nn.Module) -> None:
        import onnxruntime

        from semwear.onnx_graph import onnx_graph

        options = onnxruntime.SessionOptions()
        options.intra_op_num_threads = torch.get_num_threads()
        options.add_session_config_entry("session.intra_op.allow_spinning", "0")  # lays and grooves need the processor next
        graph = onnx_graph(folded, SURROUNDINGS_CELLS)
        self.session = onnxruntime.InferenceSession(graph, options, providers=["CPUExecutionProvider"])

    def __call__(self, picture: torch.Tensor) -> tuple[torch.Tensor, ...]:
        return tuple(torch.from_numpy(found) for found in self.session.run(None, {"image": picture.contiguous().numpy()}))


class _Inference:
    """A network prepared for use: it pads pictures, looks at them as often as asked and turns logits into probabilities."""

    def __init__(self, network: FieldNetwork, device: str, temperature: float, reduced: bool, looks: int) -> None:
        self.turns = TURNS[looks]
        self.temperature = temperature
        folded = _fold_normalisation(network)
        in_torch = reduced or torch.device(device).type != "cpu"
        self.run = _OnTorch(folded, device, torch.bfloat16 if reduced else torch.float32) if in_torch else _OnProcessor(folded)

    def __call__(self, image: np.ndarray):
        rows, cols = image.shape
        pad_rows, pad_cols = -rows % STRIDE_PX, -cols % STRIDE_PX
        mode = "symmetric" if min(rows, cols) > STRIDE_PX else "edge"
        padded = np.pad(image, ((0, pad_rows), (0, pad_cols)), mode=mode) if pad_rows or pad_cols else image
        with torch.inference_mode():
            tensor = torch.from_numpy(np.ascontiguousarray(padded, np.float32))[None, None]
            maps, kind, embedding = self._look(tensor, (), (rows, cols))
            for axes in self.turns:
                for total, other in zip(maps, self._look(tensor, axes, (rows, cols))[0], strict=True):
                    total += other
            if self.turns:
                maps = [total.div_(1 + len(self.turns)) for total in maps]
            probabilities, worn, hidden = (total.cpu().numpy() for total in maps)
        return probabilities, worn, float(kind[0]), embedding[0].float().cpu().numpy(), hidden

    def _look(self, tensor: torch.Tensor, axes: tuple[int, ...], shape: tuple[int, int]):
        """Return the maps of a picture turned round along some axes, turned back: states, worn logits, what is hidden; kind; embedding."""
        states, worn, kind, embedding, hidden = self.run(tensor.flip(axes) if axes else tensor)
        if axes:
            states, worn, hidden = (each.flip(axes) for each in (states, worn, hidden))
        rows, cols = shape
        # Softmax over whole planes, in place: three times as fast as torch.softmax over the first of three axes.
        probabilities = states[0, :, :rows, :cols].float().contiguous().div_(self.temperature)
        probabilities.sub_(probabilities.amax(0)).exp_().div_(probabilities.sum(0))
        return (probabilities, worn[0, 0].float(), hidden[0, 0, :rows, :cols].float().sigmoid()), kind, embedding


def _fold_normalisation(network: nn.Module) -> nn.Module:
    """Return a copy with every batch normalisation folded into the convolution before it."""
    network = copy.deepcopy(network).eval()
    for module in network.modules():
        if isinstance(module, Conv2dNormActivation):
            module[0] = nn.utils.fuse_conv_bn_eval(module[0], module[1])
            module[1] = nn.Identity()
    return network


def inference(
    network: FieldNetwork, *, device: str = "cpu", temperature: float = 1.0, reduced: bool = False, looks: int = 1
):
    """Return a function from a normalised picture (rows, cols) float32 to a tuple of NumPy results.

    The function returns the state probabilities (4, rows, cols) float32 (softmax of the logits over the temperature),
    the worn logits (rows / 16, cols / 16, rounded up to whole multiples of 32 pixels) float32, the kind logit (float),
    the embedding (e,) float32 and the probability that something hides the surface (rows, cols) float32. ``reduced``:
    multiply in bfloat16 (8 bits of mantissa), see :func:`reduced_precision_pays`. ``looks``: 1, 2 or 4; the maps are means over
    the picture and the same turned round, kind and embedding those of the picture as it is.
    """
    return _Inference(network, device, temperature, reduced, looks)
