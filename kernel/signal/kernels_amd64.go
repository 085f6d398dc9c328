package signal

func passes(rows []float64, k *bank) { passesScalar(rows, k) }
