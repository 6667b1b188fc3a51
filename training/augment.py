"""What other instruments do to a picture: the albumentations chain, on 8-bit pictures before they are prepared.

Geometry is left alone here (mirror images and quarter turns are made at training time), because states belong to
pixels and the physical scale of a sample is known.
"""

import albumentations


def instrument_chain(seed: int) -> albumentations.Compose:
    """Return the chain for pictures (rows, cols) uint8; the seed makes it exact to reproduce."""
    return albumentations.Compose(
        [
            albumentations.OneOf(
                [
                    albumentations.RandomGamma(gamma_limit=(50, 190)),
                    albumentations.RandomToneCurve(scale=0.25),
                    albumentations.CLAHE(clip_limit=(1, 5), tile_grid_size=(4, 4)),
                    albumentations.RandomBrightnessContrast(brightness_limit=0.25, contrast_limit=0.35),
                ],
                p=0.8,
            ),
            albumentations.OneOf(
                [
                    albumentations.GaussianBlur(sigma_limit=(0.3, 1.6), blur_limit=0),
                    albumentations.MedianBlur(blur_limit=(3, 5)),
                    albumentations.UnsharpMask(blur_limit=(3, 7), alpha=(0.2, 0.9)),
                    albumentations.MotionBlur(blur_limit=(3, 5)),
                    albumentations.Downscale(scale_range=(0.5, 0.9)),
                ],
                p=0.5,
            ),
            albumentations.OneOf(
                [
                    albumentations.GaussNoise(std_range=(0.01, 0.08)),
                    albumentations.ShotNoise(scale_range=(0.002, 0.03)),
                    albumentations.MultiplicativeNoise(multiplier=(0.85, 1.15), elementwise=True),
                    albumentations.ImageCompression(quality_range=(25, 90)),
                ],
                p=0.6,
            ),
        ],
        seed=seed,
    )
