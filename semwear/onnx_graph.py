"""The network as an ONNX graph, for the runtime that multiplies single-precision numbers fastest on a processor.

The graph follows :meth:`semwear.network.FieldNetwork.forward` node by node and holds the same numbers. It is built in memory
whenever a model is loaded, so that nothing but the weights is stored.
"""

import numpy as np
from onnx import TensorProto, helper, numpy_helper

OPSET, IR_VERSION = 17, 8
"""Versions of the ONNX standard that the graph is written in (those of ONNX 1.12, which every later runtime reads)."""
OUTPUTS = ("states", "worn", "kind", "embedding", "hidden")


class _Graph:
    """Nodes and numbers of a graph while it is built; every method adds what it is named after and returns its output's name."""

    def __init__(self) -> None:
        self.nodes, self.numbers = [], []

    def add(self, operator: str, *inputs: str, **attributes) -> str:
        name = f"{operator}_{len(self.nodes)}"
        self.nodes.append(helper.make_node(operator, list(inputs), [name], **attributes))
        return name

    def number(self, values, kind=np.float32) -> str:
        name = f"number_{len(self.numbers)}"
        self.numbers.append(numpy_helper.from_array(np.asarray(values, kind), name))
        return name

    def convolution(self, features: str, module) -> str:
        numbers = (self.number(values.detach().float().cpu().numpy()) for values in (module.weight, module.bias))
        (high, wide), (rows, cols) = module.padding, module.kernel_size
        return self.add(
            "Conv", features, *numbers, kernel_shape=[rows, cols], strides=list(module.stride), dilations=list(module.dilation),
            pads=[high, wide, high, wide],
        )  # fmt: skip

    def folded(self, features: str, module) -> str:
        """A convolution with its normalisation folded in, and its ReLU where it has one."""
        convolution, _, *ends = module
        features = self.convolution(features, convolution)
        return self.add("Relu", features) if ends else features

    def residual(self, features: str, module) -> str:
        second = self.folded(self.folded(features, module.first), module.second)
        return self.add("Relu", self.add("Add", second, features))

    def row(self, features: str, modules) -> str:
        """Convolutions and residual blocks one after the other."""
        for module in modules:
            features = self.residual(features, module) if hasattr(module, "second") else self.folded(features, module)
        return features

    def raised(self, features: str, scale: int) -> str:
        if scale == 1:
            return features
        nearest = {"mode": "nearest", "coordinate_transformation_mode": "asymmetric", "nearest_mode": "floor"}
        return self.add("Resize", features, "", self.number([1, 1, scale, scale]), **nearest)

    def merged(self, coarse: str, fine: str, module) -> str:
        both = self.add("Add", self.raised(self.folded(coarse, module.narrow), 2), fine)
        return self.row(both, [module.mix])

    def gated(self, features: str, around: str, module, scale: int) -> str:
        weight = self.add("Mul", self.add("Sigmoid", self.convolution(around, module.excite)), self.number(2.0))
        return self.add("Mul", features, self.raised(weight, scale))

    def surroundings(self, features: str, side: int) -> str:
        reach = side // 2
        rows = self.add("AveragePool", features, kernel_shape=[side, 1], pads=[reach, 0, reach, 0], count_include_pad=0)
        return self.add("AveragePool", rows, kernel_shape=[1, side], pads=[0, reach, 0, reach], count_include_pad=0)

    def embedding(self, features: str) -> str:
        """Mean and spread of every channel over the picture."""
        over = {"axes": [2, 3], "keepdims": 1}
        mean = self.add("ReduceMean", features, **over)
        apart = self.add("Sub", features, mean)
        spread = self.add("Sqrt", self.add("ReduceMean", self.add("Mul", apart, apart), **over))
        return self.add("Flatten", self.add("Concat", mean, spread, axis=1), axis=1)


def onnx_graph(network, surroundings_cells: int) -> bytes:
    """Return a FieldNetwork whose normalisation is folded into its convolutions as a serialised ONNX model.

    Input ``image`` (1, 1, rows, cols) float32, rows and cols multiples of 32; outputs as those of the network's forward pass.
    """
    graph = _Graph()
    half = graph.row(graph.add("SpaceToDepth", "image", blocksize=2), list(network.stem)[1:])
    quarter = graph.row(half, network.down_quarter)
    eighth = graph.row(quarter, network.down_eighth)
    sixteenth = graph.row(eighth, network.down_sixteenth)
    deepest = graph.row(sixteenth, network.down_deepest)
    around = graph.surroundings(deepest, surroundings_cells)
    gates = network.gates
    raised = graph.merged(graph.gated(deepest, around, gates[0], 1), sixteenth, network.up_sixteenth)
    raised = graph.gated(raised, around, gates[1], 2)
    fine = graph.gated(graph.merged(raised, eighth, network.up_eighth), around, gates[2], 4)
    fine = graph.gated(graph.merged(fine, quarter, network.up_quarter), around, gates[3], 8)
    finest = graph.merged(fine, half, network.up_half)
    embedding = graph.embedding(deepest)
    kind = graph.add("Gemm", embedding, *(graph.number(values.detach().cpu().numpy()) for values in
                                          (network.kind.weight, network.kind.bias)), transB=1)  # fmt: skip
    full_size = {"blocksize": 2, "mode": "CRD"}
    found = {
        "states": graph.add("DepthToSpace", graph.convolution(finest, network.states[0]), **full_size),
        "worn": graph.convolution(raised, network.worn),
        "kind": graph.add("Squeeze", kind, graph.number([1], np.int64)),
        "embedding": embedding,
        "hidden": graph.add("DepthToSpace", graph.convolution(finest, network.hidden[0]), **full_size),
    }
    nodes = graph.nodes + [helper.make_node("Identity", [found[name]], [name]) for name in OUTPUTS]
    image = helper.make_tensor_value_info("image", TensorProto.FLOAT, [1, 1, "rows", "cols"])
    outputs = [helper.make_tensor_value_info(name, TensorProto.FLOAT, None) for name in OUTPUTS]
    made = helper.make_graph(nodes, "field", [image], outputs, graph.numbers)
    opsets = [helper.make_opsetid("", OPSET)]
    return helper.make_model(made, opset_imports=opsets, ir_version=IR_VERSION).SerializeToString()
