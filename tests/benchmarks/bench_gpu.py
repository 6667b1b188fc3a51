"""The network on a GPU: fields a second in batches, and the same answers as on the CPU.

    python tests/benchmarks/bench_gpu.py [--batch 16] [--repeats 20]

Fields are 1280 × 960 at a working pixel size. Rates are of the network alone, pictures and answers staying on the GPU.
Agreement is the largest difference of any pixel's probability, in single precision and in bfloat16.
"""

import argparse
import time

import numpy as np
import torch

from semwear.model import load_model
from semwear.network import inference, load_network
from semwear.score import normalise
from semwear.simulate import simulate_field


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--batch", type=int, default=16)
    parser.add_argument("--repeats", type=int, default=20)
    given = parser.parse_args()
    if not torch.cuda.is_available():
        raise SystemExit("no GPU found; this benchmark needs one")
    model = load_model()
    pictures = []
    for seed in range(4):
        image = simulate_field(seed, shape=(960, 1280), pixel_size_um=0.5).image.astype(np.float32)
        pictures.append(normalise(image, np.ones(image.shape, bool)))
    network = load_network(model.folder / "weights.safetensors", tuple(model.card["widths"]))
    on_cpu, on_gpu = inference(network), inference(network, device="cuda")
    folded = on_gpu.run.network
    batch = torch.from_numpy(np.stack(pictures * (given.batch // 4 or 1))[:, None]).cuda()
    batch = batch.contiguous(memory_format=torch.channels_last)
    for tf32 in (True, False):
        torch.backends.cudnn.allow_tf32 = tf32
        gap = max(float(np.abs(on_cpu(picture)[0] - on_gpu(picture)[0]).max()) for picture in pictures)
        print(f"largest difference of a probability, CPU and GPU, {'tf32' if tf32 else 'single precision'}: {gap:.2g}")
    for name, dtype in (("single precision", torch.float32), ("bfloat16", torch.bfloat16)):
        with torch.inference_mode(), torch.autocast("cuda", dtype, enabled=dtype != torch.float32):
            for repeat in range(given.repeats + 3):
                if repeat == 3:
                    torch.cuda.synchronize()
                    started = time.perf_counter()
                states = folded(batch)[0]
            torch.cuda.synchronize()
            seconds = time.perf_counter() - started
            probabilities = torch.softmax(states.float(), 1)[: len(pictures)].cpu().numpy()
        gap = max(
            float(np.abs(one - on_cpu(picture)[0]).max()) for one, picture in zip(probabilities, pictures, strict=True)
        )
        print(f"{name}: {given.repeats * len(batch) / seconds:.0f} fields a second in batches of {len(batch)}, "
              f"probabilities within {gap:.2g} of the CPU's at temperature 1")  # fmt: skip


if __name__ == "__main__":
    main()
