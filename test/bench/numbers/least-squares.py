"""SciPy's side of least-squares.mjs: reads {"x", "y", "start", "refits": {"x", "y", "sd", "start", "count"}} from the file
named, prints times and results as JSON. Times are of the calls alone, after warm-up, without Python's start."""
import json
import statistics
import sys
import time

import numpy as np
import scipy
from scipy.optimize import curve_fit

task = json.load(open(sys.argv[1]))
x, y, start = np.array(task['x']), np.array(task['y']), task['start']


def curve(x, floor, amplitude, rate):
    return floor + amplitude * np.exp(rate * x)


def times_of(call, batches=40, each=10):
    """Time on the clock and on the processor, medians and the least, in ms."""
    for _ in range(50):
        call()
    times, cpu = [], []
    for _ in range(batches):
        begun, begun_cpu = time.perf_counter(), time.process_time()
        for _ in range(each):
            call()
        times.append((time.perf_counter() - begun) / each * 1000)
        cpu.append((time.process_time() - begun_cpu) / each * 1000)
    return {'medianMs': statistics.median(times), 'leastMs': min(times), 'cpuMs': statistics.median(cpu)}


bounds = ([0, 0, -np.inf], [np.inf] * 3)
parameters, covariance = curve_fit(curve, x, y, p0=start)
result = {
    'version': scipy.__version__,
    'fit': times_of(lambda: curve_fit(curve, x, y, p0=start)),
    'boundedFit': times_of(lambda: curve_fit(curve, x, y, p0=start, bounds=bounds), batches=10, each=3),
    'parameters': list(parameters),
    'standardErrors': list(np.sqrt(np.diag(covariance))),
}

refits = task['refits']
x, y, start = np.array(refits['x']), np.array(refits['y']), refits['start']
rng = np.random.default_rng(1)
rows = np.empty((refits['count'], 3))
begun, begun_cpu = time.perf_counter(), time.process_time()
for i in range(refits['count']):
    rows[i], _ = curve_fit(curve, x, y + refits['sd'] * rng.standard_normal(len(x)), p0=start)
result['refits'] = {'medianMs': (time.perf_counter() - begun) * 1000, 'cpuMs': (time.process_time() - begun_cpu) * 1000}
result['refitSd'] = list(rows.std(axis=0, ddof=1))
print(json.dumps(result))
