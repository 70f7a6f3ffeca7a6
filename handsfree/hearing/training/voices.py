"""The voices that speak in training, and those held back to judge by.

Natural voices come from Kokoro's tables. Thirteen of its English tables (`UNTOUCHED`) are used for
nothing here, neither training nor choosing, so that a recording made with them judges fairly.
"""

from __future__ import annotations

__all__ = [
    "ACCENTS",
    "ENGLISH",
    "ESPEAK_HELD",
    "ESPEAK_TRAIN",
    "FESTIVAL_HELD",
    "FESTIVAL_TRAIN",
    "FLITE_HELD",
    "FLITE_TRAIN",
    "FOREIGN",
    "NATURAL_HELD",
    "UNTOUCHED",
]

ENGLISH = [
    "af_alloy",
    "af_aoede",
    "af_jessica",
    "af_river",
    "am_adam",
    "am_eric",
    "am_liam",
    "am_onyx",
    "bf_alice",
    "bm_daniel",
]
FOREIGN = [
    "ef_dora",
    "em_alex",
    "ff_siwis",
    "hf_alpha",
    "hf_beta",
    "hm_psi",
    "if_sara",
    "im_nicola",
    "jf_alpha",
    "jf_gongitsune",
    "jf_nezumi",
    "jf_tebukuro",
    "jm_kumo",
    "pf_dora",
    "pm_alex",
    "zf_xiaobei",
    "zf_xiaoni",
    "zf_xiaoxiao",
    "zf_xiaoyi",
    "zm_yunjian",
    "zm_yunxi",
    "zm_yunxia",
    "zm_yunyang",
]
NATURAL_HELD = ["af_kore", "af_sky", "am_echo", "bf_lily", "bm_lewis", "hm_omega"]
UNTOUCHED = [
    "af_bella",
    "af_heart",
    "af_nicole",
    "af_nova",
    "af_sarah",
    "am_fenrir",
    "am_michael",
    "am_puck",
    "am_santa",
    "bf_emma",
    "bf_isabella",
    "bm_fable",
    "bm_george",
]

# eSpeak NG's accents of English, with how often each is taken for the natural voices.
ACCENTS = {
    "en-US": 0.45,
    "en": 0.2,
    "en-GB-x-rp": 0.1,
    "en-GB-scotland": 0.07,
    "en-GB-x-gbclan": 0.06,
    "en-GB-x-gbcwmd": 0.04,
    "en-029": 0.04,
    "en-US-nyc": 0.04,
}

_VARIANTS_TRAIN = [
    "f1",
    "f2",
    "f3",
    "f5",
    "m1",
    "m2",
    "m3",
    "m4",
    "m6",
    "m7",
    "m8",
    "klatt",
    "klatt2",
    "klatt3",
    "klatt5",
    "Alex",
    "Andrea",
    "Andy",
    "Annie",
    "Denis",
    "Gene",
    "Hugo",
    "Jacky",
    "Lee",
    "Mario",
    "Michael",
    "Reed",
    "Storm",
    "adam",
    "anika",
    "aunty",
    "belinda",
    "benjamin",
    "boris",
    "caleb",
    "david",
    "ed",
    "grandma",
    "grandpa",
    "ian",
    "iven",
    "john",
    "linda",
    "max",
    "norbert",
    "paul",
    "pedro",
    "quincy",
    "rob",
    "robert",
    "shelby",
    "steph",
    "travis",
    "victor",
    "whisper",
    "zac",
]
_VARIANTS_HELD = ["f4", "m5", "klatt4", "Alicia", "Mike", "Marco", "edward", "steph2", "gustave"]
ESPEAK_TRAIN = tuple(
    f"{accent}+{variant}" for accent in ACCENTS if accent != "en-029" for variant in _VARIANTS_TRAIN
)
ESPEAK_HELD = tuple(
    f"{accent}+{variant}" for accent in ("en-US", "en", "en-029") for variant in _VARIANTS_HELD
)

FLITE_TRAIN = ("awb", "kal", "slt")
FLITE_HELD = ("rms", "kal16")
FESTIVAL_TRAIN = ("kal_diphone", "cmu_us_slt_arctic_hts")
FESTIVAL_HELD = ("ked_diphone",)
