; doubled_is_never_odd: between 5 and 6 there is no even number
(set-info :status unsat)
(set-logic QF_NIRA)
(declare-const i Int)
(assert (<= 0 i))
(assert (<= i 50))
(assert (< 5 (* 2 i)))
(assert (not (>= i 3)))
(check-sat)
