from tests.api.test_fuzz import *
import time, sys
from collections import Counter
_T=Counter(); _N=Counter()
@schema.parametrize()
@settings(max_examples=15, deadline=None, derandomize=True, database=None, suppress_health_check=list(HealthCheck))
def test_op(case):
    t=time.perf_counter()
    r=case.call(headers={"Authorization": "Bearer token"})
    d=time.perf_counter()-t
    _T[case.operation.label]+=d; _N[case.operation.label]+=1
    if d>0.5: print(case.operation.label, d, r.status_code, str(case.body)[:150], file=sys.stderr)
def test_zz():
    print(_T, _N, file=sys.stderr)
