"""Published data sets that the survival tests compute from, each with its source."""

from __future__ import annotations

import pandas as pd


def frame(failed, censored=(), entry=0.0):
    """Lives of quantity 1 from the ages of those that failed and those that did not."""
    exits = [*failed, *censored]
    return pd.DataFrame(
        {
            "entry_days": float(entry),
            "exit_days": [float(age) for age in exits],
            "failed": [True] * len(failed) + [False] * len(censored),
            "quantity": 1,
        }
    )


# NIST/SEMATECH e-Handbook of Statistical Methods, section 8.4.1.3: hours; ten unfailed at 500 h.
NIST = frame([54, 187, 216, 240, 244, 335, 361, 373, 375, 386], [500] * 10)

# Diesel generator fans: Nelson, Applied Life Data Analysis (1982); R package survival, data set genfan. Hours.
FANS = frame(
    [450, 1150, 1150, 1600, 2070, 2070, 2080, 3100, 3450, 4600, 6100, 8750],
    [460, 1560, 1660]
    + [1850] * 5
    + [2030] * 3
    + [2200]
    + [3000] * 4
    + [3200]
    + [3750] * 2
    + [4150] * 4
    + [4300] * 4
    + [4850] * 4
    + [5000] * 3
    + [6100] * 3
    + [6300]
    + [6450] * 2
    + [6700, 7450]
    + [7800] * 2
    + [8100] * 2
    + [8200]
    + [8500] * 3
    + [8750] * 2
    + [9400, 9900]
    + [10100] * 3
    + [11500],
)

# Acute myelogenous leukaemia, weeks: R package survival, data set aml (human data, only a check).
AML_MAINTAINED = frame([9, 13, 18, 23, 31, 34, 48], [13, 28, 45, 161])
AML_NOT_MAINTAINED = frame([5, 5, 8, 8, 12, 23, 27, 30, 33, 43, 45], [16])

# Channing House, males with exit > entry, months: Hyde (1980); R package boot, data set channing (human
# data, only a check). Each triple is entry, exit, 1 = died.
_CHANNING_MALES = """
782 909 1, 1020 1128 1, 856 969 1, 915 957 1, 863 983 1, 906 1012 1, 955 1055 1, 943 1025 1, 943 1043 1,
837 945 1, 966 1009 1, 936 971 1, 919 1033 1, 852 869 1, 1073 1139 1, 925 1036 1, 967 1085 1, 806 943 0,
969 1001 0, 923 1060 0, 865 1002 0, 953 1031 0, 871 945 0, 982 1006 0, 883 959 0, 817 843 0, 875 1012 0,
821 956 0, 936 1073 0, 971 1107 0, 830 940 0, 885 911 0, 894 1031 0, 893 996 0, 866 895 0, 878 1015 0,
820 957 0, 1007 1043 0, 879 1016 0, 956 1093 0, 854 989 1, 890 1027 0, 1041 1044 0, 978 1005 0, 836 973 0,
938 1064 0, 886 1023 0, 876 1013 0, 955 977 0, 823 960 0, 960 1047 0, 843 943 0, 856 951 0, 847 984 0,
1027 1058 0, 988 1045 0, 978 1018 0, 981 1118 0, 926 970 0, 1036 1070 0, 1016 1153 0, 969 1106 0, 900 936 0,
898 906 0, 846 866 0, 964 1029 1, 984 1053 1, 1046 1080 1, 871 872 1, 847 893 1, 962 966 0, 853 894 1,
967 985 1, 1063 1094 1, 856 927 1, 865 948 1, 1051 1059 1, 1010 1012 1, 878 911 1, 1021 1094 1, 959 972 0,
921 993 1, 836 876 1, 919 993 1, 751 777 1, 906 966 1, 835 907 1, 946 1031 1, 759 781 1, 909 914 0,
962 998 1, 984 1022 1, 891 932 1, 835 898 1, 1039 1060 1, 1010 1044 1
"""


def channing_males() -> pd.DataFrame:
    """The 96 males of Channing House with exit after entry, as lives."""
    rows = [part.split() for part in _CHANNING_MALES.split(",")]
    return pd.DataFrame(
        {
            "entry_days": [float(row[0]) for row in rows],
            "exit_days": [float(row[1]) for row in rows],
            "failed": [row[2] == "1" for row in rows],
            "quantity": 1,
        }
    )


def simulated_lives(shape, scale, units, seed, horizon=4000):
    """Whole-day lives with staggered installation, seen only from the day a log starts (left truncation)."""
    import numpy as np

    rng = np.random.default_rng(seed)
    life = scale * rng.weibull(shape, units)
    entry = np.floor(np.maximum(rng.uniform(-horizon / 2, horizon / 2, units), 0.0))
    end = entry + rng.uniform(0.1, 0.5, units) * horizon
    seen = life > entry
    life, entry, end = life[seen], entry[seen], end[seen]
    failed = life <= end
    exit_ = np.where(failed, life, end)
    return pd.DataFrame({"entry_days": entry, "exit_days": exit_, "failed": failed, "quantity": 1})
