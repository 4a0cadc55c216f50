-- The store: append-only tables in schema `base`, and the views people and programs query.
-- Everything the order of loading could change (which revision stands, what was sent twice, which
-- lot a sample belongs to) is worked out in views, so that any order gives the same answers.

CREATE SCHEMA IF NOT EXISTS base;

CREATE TABLE IF NOT EXISTS base.version (schema_version INTEGER, definitions VARCHAR);

CREATE TABLE IF NOT EXISTS base.report (
    load_no INTEGER, report_id VARCHAR PRIMARY KEY, file VARCHAR, sha256 VARCHAR, lab VARCHAR,
    report_no VARCHAR, revision VARCHAR, replaces VARCHAR, layout VARCHAR, reported_on DATE,
    loaded_at TIMESTAMP, n_values INTEGER, notices VARCHAR, lab_key VARCHAR, no_key VARCHAR,
    printed_rank BIGINT[], named VARCHAR[], judged_with VARCHAR);

-- What a report says of its samples and of its columns, once each; `result` points at both.
CREATE TABLE IF NOT EXISTS base.sample (
    sample_key BIGINT, load_no INTEGER, sample_id VARCHAR, lab_sample_id VARCHAR,
    sample_kind VARCHAR, lot VARCHAR, region VARCHAR, grower VARCHAR, vineyard VARCHAR,
    block VARCHAR, variety VARCHAR, vintage INTEGER, matrix VARCHAR, stage VARCHAR,
    sampled_on DATE, received_on DATE, analysed_on DATE, replicate VARCHAR, treatment VARCHAR,
    dose DOUBLE, dose_unit VARCHAR, trial VARCHAR, matrix_assumed BOOLEAN, lot_key VARCHAR);

-- The sample that one may be a replicate of, and its mark, where only the register can tell.
ALTER TABLE base.sample ADD COLUMN IF NOT EXISTS namesake_of VARCHAR;
ALTER TABLE base.sample ADD COLUMN IF NOT EXISTS namesake_mark VARCHAR;

CREATE TABLE IF NOT EXISTS base.measure (
    measure_key BIGINT, load_no INTEGER, method VARCHAR, analyte VARCHAR, form VARCHAR,
    expressed_as VARCHAR, unit VARCHAR, censoring VARCHAR, limit_kind VARCHAR, lod DOUBLE,
    loq DOUBLE, uncertainty_source VARCHAR, coverage_factor DOUBLE, path_length DOUBLE,
    illuminant VARCHAR, observer VARCHAR, qualifier VARCHAR, raw_analyte VARCHAR,
    raw_unit VARCHAR, sheet VARCHAR, outcome VARCHAR, qc_kind VARCHAR);

-- What rows of quality control say of themselves; a store made before has the table without them.
ALTER TABLE base.measure ADD COLUMN IF NOT EXISTS parent_sample VARCHAR;
ALTER TABLE base.measure ADD COLUMN IF NOT EXISTS expected DOUBLE;
ALTER TABLE base.measure ADD COLUMN IF NOT EXISTS added DOUBLE;
ALTER TABLE base.measure ADD COLUMN IF NOT EXISTS assigned_deviation DOUBLE;
ALTER TABLE base.measure ADD COLUMN IF NOT EXISTS assigned_uncertainty DOUBLE;

CREATE TABLE IF NOT EXISTS base.result (
    value_key BIGINT, sample_key BIGINT, measure_key BIGINT, value DOUBLE, lower DOUBLE,
    upper DOUBLE, standard_uncertainty DOUBLE, expanded_uncertainty DOUBLE, raw_value VARCHAR,
    cell VARCHAR);

CREATE TABLE IF NOT EXISTS base.held (
    load_no INTEGER, held_id VARCHAR, sheet VARCHAR, cell VARCHAR, raw_sample VARCHAR,
    raw_analyte VARCHAR, raw_value VARCHAR, raw_unit VARCHAR, reason_code VARCHAR, reason VARCHAR,
    hint VARCHAR);

-- What a correction of a held value needs once the file is gone: the reading with all its headings
-- (JSON), and the cells around it as text.
CREATE TABLE IF NOT EXISTS base.held_context (
    load_no INTEGER, held_id VARCHAR, reading VARCHAR, around VARCHAR);

-- What a person decided of a held value, with what was printed and why it was held at that time.
CREATE TABLE IF NOT EXISTS base.settlement (
    settlement_no INTEGER, held_id VARCHAR, report_id VARCHAR, sheet VARCHAR, cell VARCHAR,
    raw_sample VARCHAR, raw_analyte VARCHAR, raw_value VARCHAR, raw_unit VARCHAR,
    reason_code VARCHAR, decision VARCHAR, corrected_value VARCHAR, corrected_number DOUBLE,
    corrected_unit VARCHAR, corrected_analyte VARCHAR, corrected_form VARCHAR,
    corrected_sample VARCHAR, who VARCHAR, note VARCHAR, settled_at TIMESTAMP);
ALTER TABLE base.settlement ADD COLUMN IF NOT EXISTS corrected_date VARCHAR;
ALTER TABLE base.settlement ADD COLUMN IF NOT EXISTS corrected_dose VARCHAR;
ALTER TABLE base.settlement ADD COLUMN IF NOT EXISTS corrected_replicate VARCHAR;
ALTER TABLE base.settlement ADD COLUMN IF NOT EXISTS corrected_path_length VARCHAR;
ALTER TABLE base.settlement ADD COLUMN IF NOT EXISTS corrected_matrix VARCHAR;
ALTER TABLE base.settlement ADD COLUMN IF NOT EXISTS corrected_factor DOUBLE;

-- All settlements of a held value up to that number were taken back.
CREATE TABLE IF NOT EXISTS base.settlement_undo (
    held_id VARCHAR, up_to INTEGER, undone_at TIMESTAMP);

-- The result row that a correction gave; made anew when its report is judged anew.
CREATE TABLE IF NOT EXISTS base.corrected (
    load_no INTEGER, settlement_no INTEGER, value_key BIGINT);
-- The stored number in whose place it stands, where that was suspected and not held.
ALTER TABLE base.corrected ADD COLUMN IF NOT EXISTS replaces BIGINT;

-- Which store this is, so that a workbook taken out of another one is told apart.
CREATE TABLE IF NOT EXISTS base.identity (store_id VARCHAR);
INSERT INTO base.identity
SELECT CAST(uuid() AS VARCHAR) WHERE NOT EXISTS (SELECT 1 FROM base.identity);

CREATE TABLE IF NOT EXISTS base.unused (
    load_no INTEGER, sheet VARCHAR, cell VARCHAR, raw_sample VARCHAR, raw_analyte VARCHAR,
    raw_value VARCHAR, outcome VARCHAR);

CREATE TABLE IF NOT EXISTS base.register (
    version INTEGER, file VARCHAR, content VARCHAR, loaded_at TIMESTAMP);

CREATE TABLE IF NOT EXISTS base.register_lot (
    version INTEGER, lot VARCHAR, region VARCHAR, grower VARCHAR, vineyard VARCHAR, block VARCHAR,
    variety VARCHAR, colour VARCHAR, vintage INTEGER, volume_l DOUBLE, expected_picking_on DATE,
    lot_key VARCHAR, wine VARCHAR, usual_wine VARCHAR);

CREATE TABLE IF NOT EXISTS base.register_sample (
    version INTEGER, sample_id VARCHAR, lab VARCHAR, lot VARCHAR, sample_kind VARCHAR,
    matrix VARCHAR, stage VARCHAR, sampled_on DATE, bunches INTEGER, brix DOUBLE,
    treatment VARCHAR, dose DOUBLE, dose_unit VARCHAR, trial VARCHAR, lab_key VARCHAR,
    lot_key VARCHAR);

CREATE TABLE IF NOT EXISTS base.movement (
    version INTEGER, from_lot VARCHAR, to_lot VARCHAR, kind VARCHAR, volume_l DOUBLE,
    moved_on DATE);

CREATE TABLE IF NOT EXISTS base.intervention (
    version INTEGER, lot VARCHAR, kind VARCHAR, agent VARCHAR, dose DOUBLE, dose_unit VARCHAR,
    done_on DATE, permission_note VARCHAR);

CREATE TABLE IF NOT EXISTS base.tasting (
    version INTEGER, lot VARCHAR, attribute VARCHAR, score DOUBLE, scale_max DOUBLE,
    panel_size INTEGER, tasted_on DATE);

CREATE TABLE IF NOT EXISTS base.decision (
    version INTEGER, lot VARCHAR, decision VARCHAR, decided_on DATE, who VARCHAR, note VARCHAR,
    retest_due_on DATE);

CREATE TABLE IF NOT EXISTS base.exposure (
    version INTEGER, block VARCHAR, "from" DATE, "to" DATE, growth_stage VARCHAR, "index" DOUBLE,
    source VARCHAR);

CREATE TABLE IF NOT EXISTS base.fraction (
    lot VARCHAR, sample_id VARCHAR, sample_kind VARCHAR, stage VARCHAR, sampled_on DATE,
    lab VARCHAR, free_method VARCHAR, bound_method VARCHAR, aglycone VARCHAR, free_lower DOUBLE,
    free_upper DOUBLE, bound_lower DOUBLE, bound_upper DOUBLE, unit VARCHAR,
    bound_fraction_lower DOUBLE, bound_fraction_upper DOUBLE, bound_basis VARCHAR, cells VARCHAR);

CREATE TABLE IF NOT EXISTS base.quality (
    report_id VARCHAR, lab VARCHAR, report_no VARCHAR, method VARCHAR, analysed_on DATE,
    qc_kind VARCHAR, rule VARCHAR, analyte VARCHAR, form VARCHAR, sample_id VARCHAR,
    parent_sample VARCHAR, lower DOUBLE, upper DOUBLE, unit VARCHAR, limit_lower DOUBLE,
    limit_upper DOUBLE, judgement VARCHAR, message VARCHAR, source VARCHAR, cells VARCHAR);

CREATE TABLE IF NOT EXISTS base.flag (
    lot VARCHAR, sample_id VARCHAR, stage VARCHAR, sampled_on DATE, lab VARCHAR, method VARCHAR,
    kind VARCHAR, analyte VARCHAR, form VARCHAR, lower DOUBLE, upper DOUBLE, unit VARCHAR,
    threshold DOUBLE, threshold_source VARCHAR, probability DOUBLE, decision VARCHAR,
    reason VARCHAR, severity VARCHAR, message VARCHAR, cells VARCHAR, raised_at TIMESTAMP,
    status VARCHAR);

ALTER TABLE base.flag ADD COLUMN IF NOT EXISTS uncertainty_source VARCHAR;
ALTER TABLE base.flag ADD COLUMN IF NOT EXISTS note VARCHAR;
ALTER TABLE base.flag ADD COLUMN IF NOT EXISTS report_without_lab VARCHAR;
ALTER TABLE base.flag ADD COLUMN IF NOT EXISTS free_change_lower DOUBLE;
ALTER TABLE base.flag ADD COLUMN IF NOT EXISTS free_change_upper DOUBLE;
ALTER TABLE base.flag ADD COLUMN IF NOT EXISTS free_change VARCHAR;
ALTER TABLE base.flag ADD COLUMN IF NOT EXISTS bound_change_lower DOUBLE;
ALTER TABLE base.flag ADD COLUMN IF NOT EXISTS bound_change_upper DOUBLE;
ALTER TABLE base.flag ADD COLUMN IF NOT EXISTS bound_change VARCHAR;
ALTER TABLE base.flag ADD COLUMN IF NOT EXISTS change_unit VARCHAR;

CREATE TABLE IF NOT EXISTS base.panel (
    lot VARCHAR, sample_id VARCHAR, sample_kind VARCHAR, stage VARCHAR, sampled_on DATE,
    lab VARCHAR, method VARCHAR, panel VARCHAR, basis VARCHAR, expressed_as VARCHAR,
    lower DOUBLE, middle DOUBLE, upper DOUBLE, unit VARCHAR, n_members INTEGER,
    n_missing INTEGER, n_censored INTEGER, members VARCHAR, missing VARCHAR,
    limit_driven BOOLEAN, cells VARCHAR);

-- What settings and control charts say of a laboratory's uncertainty, as last used to decide.
CREATE TABLE IF NOT EXISTS base.own_uncertainty (
    lab VARCHAR, method VARCHAR, analyte VARCHAR, form VARCHAR, unit VARCHAR,
    relative_uncertainty DOUBLE, absolute_uncertainty DOUBLE, origin VARCHAR);

ALTER TABLE base.own_uncertainty ADD COLUMN IF NOT EXISTS relative_within DOUBLE;

-- Stored numbers whose unit may have slipped, by that power of ten, as last derived.
CREATE TABLE IF NOT EXISTS base.suspect (value_key BIGINT, power INTEGER, evidence VARCHAR);

-- The settings the derived tables were made with; empty as soon as something new is stored.
CREATE TABLE IF NOT EXISTS base.derived (made_with VARCHAR);

CREATE TABLE IF NOT EXISTS base.digest (
    digest_no INTEGER, written_at TIMESTAMP, summary VARCHAR);

CREATE TABLE IF NOT EXISTS base.digest_flag (
    digest_no INTEGER, lot VARCHAR, sample_id VARCHAR, stage VARCHAR, sampled_on DATE,
    lab VARCHAR, method VARCHAR, kind VARCHAR, analyte VARCHAR, form VARCHAR, lower DOUBLE,
    upper DOUBLE, unit VARCHAR, threshold DOUBLE, threshold_source VARCHAR, probability DOUBLE,
    decision VARCHAR, reason VARCHAR, severity VARCHAR, message VARCHAR, cells VARCHAR,
    raised_at TIMESTAMP, status VARCHAR);
ALTER TABLE base.digest_flag ADD COLUMN IF NOT EXISTS uncertainty_source VARCHAR;
ALTER TABLE base.digest_flag ADD COLUMN IF NOT EXISTS note VARCHAR;
ALTER TABLE base.digest_flag ADD COLUMN IF NOT EXISTS report_without_lab VARCHAR;
ALTER TABLE base.digest_flag ADD COLUMN IF NOT EXISTS free_change_lower DOUBLE;
ALTER TABLE base.digest_flag ADD COLUMN IF NOT EXISTS free_change_upper DOUBLE;
ALTER TABLE base.digest_flag ADD COLUMN IF NOT EXISTS free_change VARCHAR;
ALTER TABLE base.digest_flag ADD COLUMN IF NOT EXISTS bound_change_lower DOUBLE;
ALTER TABLE base.digest_flag ADD COLUMN IF NOT EXISTS bound_change_upper DOUBLE;
ALTER TABLE base.digest_flag ADD COLUMN IF NOT EXISTS bound_change VARCHAR;
ALTER TABLE base.digest_flag ADD COLUMN IF NOT EXISTS change_unit VARCHAR;

-- Expected reproducibility standard deviation of a concentration in ug/L or ug/kg (1 ug/L taken as
-- a mass fraction of 1e-9): Thompson, Analyst 125 (2000) 385. Tested against the same table as
-- pipeline/uncertainty.
CREATE OR REPLACE MACRO base.horwitz_thompson(c) AS
    CASE WHEN c * 1e-9 < 1.2e-7 THEN 0.22 * c
         WHEN c * 1e-9 <= 0.138 THEN 0.02 * pow(c * 1e-9, 0.8495) * 1e9
         ELSE 0.01 * sqrt(c * 1e-9) * 1e9 END;

CREATE OR REPLACE MACRO base.folded(name) AS regexp_replace(lower(trim(name)), '\s+', ' ', 'g');

-- Who was sent which digest: claimed before it is handed over, so that none goes out twice.
CREATE TABLE IF NOT EXISTS base.sending (
    address VARCHAR, state VARCHAR, claimed_at TIMESTAMP, sent_at TIMESTAMP);

-- Put the mark of an assumed matrix into a remark, or take it away.
CREATE OR REPLACE MACRO base.marked(qualifier, assumed) AS
    nullif(concat_ws('; ', nullif(array_to_string([part for part in string_split(qualifier, '; ')
        if NOT starts_with(part, 'matrix assumed: ')], '; '), ''), 'matrix assumed: ' || assumed),
        '');

-- A view that is named twice is planned twice: what is needed more than once is a table expression
-- of one view, and what is known of a report travels along with its samples.
DROP VIEW IF EXISTS base.claim;
DROP VIEW IF EXISTS base.predecessor;
DROP VIEW IF EXISTS base.ranked_report;
DROP VIEW IF EXISTS base.lot_told;
DROP VIEW IF EXISTS base.matched_sample;

-- Which report comes after which. A revision whose words say no order stands beside the highest of
-- its siblings: the date decides. Claims that run in a circle order nothing: those reports all stay.
CREATE OR REPLACE VIEW base.succession AS
WITH RECURSIVE ranked AS (
    SELECT *, coalesce(printed_rank, max(printed_rank) OVER (PARTITION BY lab_key, no_key),
        [CAST(0 AS BIGINT)]) AS rank
    FROM base.report
    WHERE lab_key IS NOT NULL),
claim AS (
    SELECT a.load_no AS older, b.load_no AS newer, true AS same_number
    FROM ranked a JOIN ranked b USING (lab_key, no_key)
    WHERE a.rank < b.rank OR (a.rank = b.rank AND a.reported_on < b.reported_on)
    UNION ALL
    SELECT a.load_no, b.load_no, false
    FROM (SELECT load_no, lab_key, no_key, unnest(named) AS named FROM ranked) b
    JOIN ranked a ON a.lab_key = b.lab_key AND a.no_key = b.named
    WHERE a.no_key IS DISTINCT FROM b.no_key),
reach AS (
    SELECT older, newer FROM claim
    UNION
    SELECT r.older, c.newer FROM reach r JOIN claim c ON r.newer = c.older),
ordered AS (
    SELECT older, newer, bool_or(same_number) AS same_number
    FROM claim c
    WHERE NOT EXISTS (SELECT 1 FROM reach r WHERE r.older = c.newer AND r.newer = c.older)
    GROUP BY older, newer)
SELECT s.*, o.rank, o.reported_on, o.report_id FROM ordered s JOIN ranked o ON o.load_no = s.older;

-- One spelling for a laboratory, whichever report came first: the register's, else the first by
-- alphabet.
CREATE OR REPLACE VIEW base.lab_name AS
SELECT lab_key, coalesce(min(lab) FILTER (registered), min(lab)) AS lab
FROM (SELECT lab_key, trim(lab) AS lab, false AS registered FROM base.report
    UNION ALL SELECT lab_key, trim(lab), true FROM base.register_sample)
WHERE lab_key IS NOT NULL
GROUP BY lab_key;

CREATE OR REPLACE VIEW base.standing AS
WITH succession AS (FROM base.succession),
predecessor AS (
    SELECT newer AS load_no, older, report_id AS supersedes FROM succession
    QUALIFY row_number() OVER (PARTITION BY newer
        ORDER BY same_number DESC, rank DESC, reported_on DESC NULLS LAST, report_id) = 1)
SELECT r.* REPLACE (coalesce(n.lab, r.lab) AS lab), p.older, p.supersedes,
    r.load_no NOT IN (SELECT older FROM succession) AS is_current
FROM base.report r
LEFT JOIN base.lab_name n ON n.lab_key = r.lab_key
LEFT JOIN predecessor p USING (load_no);

-- The last decision on each held value that was not taken back.
CREATE OR REPLACE VIEW base.last_settlement AS
SELECT s.*
FROM base.settlement s
WHERE NOT EXISTS (SELECT 1 FROM base.settlement_undo u
    WHERE u.held_id = s.held_id AND u.up_to >= s.settlement_no)
QUALIFY row_number() OVER (PARTITION BY s.held_id ORDER BY s.settlement_no DESC) = 1;

-- What a stored number is called while its unit is suspected: the same in every store. Held values
-- are called without the letter. A number that corrects another has a name of its own.
CREATE OR REPLACE MACRO base.suspect_id(report_id, sheet, cell, held_id) AS
    'S-' || substr(md5(concat_ws('|', report_id, sheet, cell,
        CASE WHEN held_id LIKE 'S-%' THEN held_id END)), 1, 10);

-- Decisions on stored numbers; a correction counts once its row is there.
CREATE OR REPLACE VIEW base.settled_suspect AS
SELECT s.*, c.load_no, c.value_key, c.replaces
FROM base.last_settlement s LEFT JOIN base.corrected c USING (settlement_no)
WHERE s.held_id LIKE 'S-%' AND (s.decision <> 'correct' OR c.value_key IS NOT NULL);

-- Decisions whose value is still held, as it was printed and for the same reason.
CREATE OR REPLACE VIEW base.valid_settlement AS
SELECT s.*, h.load_no
FROM base.last_settlement s
JOIN base.held h ON h.held_id = s.held_id AND h.reason_code = s.reason_code
    AND h.raw_value IS NOT DISTINCT FROM s.raw_value
    AND h.raw_sample IS NOT DISTINCT FROM s.raw_sample
    AND h.raw_analyte IS NOT DISTINCT FROM s.raw_analyte
    AND h.raw_unit IS NOT DISTINCT FROM s.raw_unit;

-- Those that count; a correction counts once its row is there.
CREATE OR REPLACE VIEW base.settled AS
SELECT s.*, c.value_key, c.replaces
FROM base.valid_settlement s LEFT JOIN base.corrected c USING (load_no, settlement_no)
WHERE s.decision NOT IN ('correct', 'confirm') OR c.value_key IS NOT NULL
UNION ALL BY NAME FROM base.settled_suspect;

-- Rows of corrections that were taken back, or no longer fit what is held.
CREATE OR REPLACE VIEW base.set_aside AS
SELECT value_key FROM base.corrected
WHERE value_key NOT IN (SELECT value_key FROM base.settled WHERE value_key IS NOT NULL);

-- What reports say of their samples, without the samples of corrections that no longer count.
CREATE OR REPLACE VIEW base.spoken_sample AS
WITH idle AS (
    SELECT v.sample_key
    FROM base.corrected c JOIN base.result v USING (value_key)
    LEFT JOIN base.set_aside a USING (value_key)
    GROUP BY v.sample_key HAVING count(a.value_key) = count(*))
SELECT * FROM base.sample WHERE sample_key NOT IN (SELECT sample_key FROM idle);

-- The register: the newest row of each key; events are whole rows.
CREATE OR REPLACE VIEW base.known_lot AS
SELECT * FROM base.register_lot
QUALIFY row_number() OVER (PARTITION BY lot_key ORDER BY version DESC) = 1;

CREATE OR REPLACE VIEW base.known_sample AS
SELECT * FROM base.register_sample
QUALIFY row_number() OVER (PARTITION BY lab_key, sample_id ORDER BY version DESC) = 1;

-- A register line without laboratory serves every laboratory that has no line of its own.
CREATE OR REPLACE VIEW base.sample_of_lab AS
SELECT asked.lab_key AS asking, k.*
FROM (SELECT DISTINCT coalesce(lab_key, '') AS lab_key FROM base.report) asked
JOIN base.known_sample k ON k.lab_key = asked.lab_key OR k.lab_key IS NULL
QUALIFY row_number() OVER (PARTITION BY asked.lab_key, k.sample_id
    ORDER BY k.lab_key NULLS LAST) = 1;

-- Samples that may be replicates of one ("W-1a", "W-1b") are, once the register has that sample and
-- none of theirs, be it as sample or as lot.
CREATE OR REPLACE VIEW base.called_sample AS
WITH spoken AS (FROM base.spoken_sample),
open_name AS (
    SELECT DISTINCT load_no, namesake_of, sample_id, coalesce(r.lab_key, '') AS asking
    FROM spoken JOIN base.report r USING (load_no) WHERE namesake_of IS NOT NULL),
registered AS (SELECT asking, sample_id FROM base.sample_of_lab),
settled AS (
    SELECT o.load_no, o.namesake_of
    FROM open_name o
    JOIN registered base_sample
        ON base_sample.asking = o.asking AND base_sample.sample_id = o.namesake_of
    LEFT JOIN registered own ON own.asking = o.asking AND own.sample_id = o.sample_id
    LEFT JOIN base.known_lot l ON l.lot_key = base.folded(o.sample_id)
    GROUP BY ALL HAVING count(own.sample_id) = 0 AND count(l.lot_key) = 0)
SELECT s.* REPLACE (coalesce(t.namesake_of, s.sample_id) AS sample_id,
    CASE WHEN t.namesake_of IS NULL THEN s.replicate ELSE s.namesake_mark END AS replicate)
FROM spoken s LEFT JOIN settled t USING (load_no, namesake_of);

-- What one report in force says of a sample holds for its results in other reports of the
-- laboratory, unless they disagree: a name that is used again is another sample. First the lot;
-- then day and stage, which tell samples of one lot and name apart; then the rest. What is said once
-- only has nothing to agree with.
CREATE OR REPLACE MACRO base.agreed(said) AS CASE WHEN min(said) = max(said) THEN min(said) END;

CREATE OR REPLACE VIEW base.day_told AS
WITH spoken AS (
    SELECT sa.*, st.report_id, st.lab, st.report_no, st.revision, st.file, st.reported_on,
        st.lab_key, st.is_current, coalesce(st.lab_key, '') AS asking, CASE
        WHEN st.is_current AND st.lab_key IS NOT NULL THEN st.lab_key
        ELSE 'alone ' || sa.load_no END AS sharing
    FROM base.called_sample sa JOIN base.standing st USING (load_no)),
agreed_lot AS (
    SELECT sharing, sample_id, base.agreed(lot_key) AS lot_key, min(lot) AS lot
    FROM spoken GROUP BY sharing, sample_id HAVING count(*) > 1),
lot_told AS (
    SELECT s.* REPLACE (coalesce(s.lot_key, a.lot_key) AS lot_key,
        coalesce(s.lot, CASE WHEN a.lot_key IS NOT NULL THEN a.lot END) AS lot),
        a.sample_id IS NOT NULL AS is_said_again
    FROM spoken s LEFT JOIN agreed_lot a USING (sharing, sample_id)),
agreed_day AS (
    SELECT sharing, sample_id, lot_key, min(stage) AS stage, min(sampled_on) AS sampled_on,
        min(received_on) AS received_on
    FROM lot_told WHERE is_said_again GROUP BY sharing, sample_id, lot_key
    HAVING min(stage) IS NOT DISTINCT FROM max(stage)
        AND min(sampled_on) IS NOT DISTINCT FROM max(sampled_on)
        AND min(received_on) IS NOT DISTINCT FROM max(received_on))
SELECT s.* REPLACE (coalesce(s.stage, a.stage) AS stage,
    coalesce(s.sampled_on, a.sampled_on) AS sampled_on,
    coalesce(s.received_on, a.received_on) AS received_on)
FROM lot_told s LEFT JOIN agreed_day a
    ON a.sharing = s.sharing AND a.sample_id = s.sample_id
    AND a.lot_key IS NOT DISTINCT FROM s.lot_key;

CREATE OR REPLACE VIEW base.told_sample AS
WITH told AS (FROM base.day_told),
agreed AS (
    SELECT sharing, sample_id, lot_key, stage, sampled_on, base.agreed(region) AS region,
        base.agreed(grower) AS grower, base.agreed(vineyard) AS vineyard,
        base.agreed(block) AS block, base.agreed(variety) AS variety,
        base.agreed(vintage) AS vintage,
        base.agreed(CASE WHEN NOT matrix_assumed THEN nullif(matrix, 'wine') END) AS matrix
    FROM told WHERE is_said_again GROUP BY sharing, sample_id, lot_key, stage, sampled_on)
SELECT s.* REPLACE (
    coalesce(s.region, a.region) AS region, coalesce(s.grower, a.grower) AS grower,
    coalesce(s.vineyard, a.vineyard) AS vineyard, coalesce(s.block, a.block) AS block,
    coalesce(s.variety, a.variety) AS variety, coalesce(s.vintage, a.vintage) AS vintage,
    CASE WHEN a.matrix IS NOT NULL AND (s.matrix_assumed OR coalesce(s.matrix, 'wine') = 'wine')
         THEN a.matrix ELSE s.matrix END AS matrix,
    s.matrix_assumed AND a.matrix IS NULL AS matrix_assumed)
FROM told s LEFT JOIN agreed a
    ON a.sharing = s.sharing AND a.sample_id = s.sample_id
    AND a.lot_key IS NOT DISTINCT FROM s.lot_key AND a.stage IS NOT DISTINCT FROM s.stage
    AND a.sampled_on IS NOT DISTINCT FROM s.sampled_on;

-- Values a later current report of the laboratory sends again; the first report keeps them, and a
-- printed value goes before a corrected one. Samples that nothing tells apart are gathered first,
-- then the reports they share: columns that only one of these has need no look at their values.
CREATE OR REPLACE VIEW base.repeat AS
WITH told AS (FROM base.day_told WHERE is_current AND lab_key IS NOT NULL),
shared AS (
    SELECT lab_key, sample_id FROM told GROUP BY ALL HAVING min(load_no) < max(load_no)),
sent AS (
    SELECT * FROM base.measure
    WHERE outcome = 'result' OR outcome = 'corrected' AND qc_kind IS NULL),
alike AS (
    SELECT min(sample_key) AS alike_key, list(sample_key) AS sample_keys,
        list_sort(list(DISTINCT load_no)) AS load_nos
    FROM told SEMI JOIN shared USING (lab_key, sample_id)
    GROUP BY lab_key, sample_id, sample_kind, treatment, dose, trial, lot_key, stage, sampled_on,
        received_on, analysed_on, replicate),
meeting AS (SELECT load_nos, min(alike_key) AS meeting_key FROM alike GROUP BY load_nos),
met AS (
    SELECT meeting_key, unnest(load_nos) AS load_no FROM meeting),
doubled AS (
    SELECT meeting_key, unnest(list(measure_key)) AS measure_key
    FROM met JOIN sent USING (load_no)
    GROUP BY meeting_key, analyte, form, expressed_as, method, unit
    HAVING min(load_no) < max(load_no) OR bool_or(outcome = 'corrected')),
placed AS (
    SELECT alike_key, meeting_key, unnest(sample_keys) AS sample_key
    FROM alike JOIN meeting USING (load_nos)),
twice AS (
    SELECT v.value_key, v.value, v.lower, v.upper, p.alike_key, v.sample_key, v.measure_key
    FROM base.result v JOIN doubled d USING (measure_key)
    JOIN placed p ON p.sample_key = v.sample_key AND p.meeting_key = d.meeting_key)
SELECT value_key, m.outcome
FROM twice v JOIN sent m USING (measure_key) JOIN base.report r ON r.load_no = m.load_no
WHERE value_key NOT IN (SELECT value_key FROM base.set_aside)
QUALIFY dense_rank() OVER (
    PARTITION BY alike_key, m.analyte, m.form, m.expressed_as, m.method, m.unit, v.value, v.lower,
        v.upper
    ORDER BY m.outcome = 'corrected', r.reported_on NULLS LAST, r.report_no, r.report_id) > 1;

-- One spelling for a lot that the register does not list: the first by alphabet.
CREATE OR REPLACE VIEW base.lot_name AS
SELECT lot_key, min(trim(lot)) AS lot
FROM (SELECT lot_key, lot FROM base.spoken_sample
    UNION ALL SELECT lot_key, lot FROM base.known_sample)
WHERE lot_key IS NOT NULL
GROUP BY lot_key;

-- Each sample beside what the register says of it and of its lot. The colour of a wine is that of
-- the register's sample, else of its lot, else what is printed, else what its variety is usually
-- made into.
CREATE OR REPLACE VIEW base.placed_sample AS
WITH registered AS (FROM base.sample_of_lab),
matched AS (
    SELECT sa.*, coalesce(own.sample_id, sa.lab_sample_id) AS registered_id
    FROM base.told_sample sa
    LEFT JOIN registered own ON own.asking = sa.asking AND own.sample_id = sa.sample_id)
SELECT sa.*, s AS said, l AS known, coalesce(l.lot, n.lot) AS placed_lot,
    coalesce(s.stage, sa.stage) AS placed_stage,
    CASE WHEN s.matrix <> 'wine' THEN s.matrix
         WHEN sa.matrix IN ('red wine', 'white wine', 'rose wine') AND NOT sa.matrix_assumed
         THEN coalesce(l.wine, sa.matrix)
         WHEN sa.matrix <> 'wine' AND NOT sa.matrix_assumed THEN sa.matrix END AS printed_matrix,
    coalesce(s.matrix, CASE WHEN NOT sa.matrix_assumed THEN sa.matrix END, '') = 'wine'
        OR coalesce(s.stage, sa.stage, '') NOT IN ('vineyard', 'harvest', 'must') AS may_be_wine,
    coalesce(l.usual_wine, CASE WHEN sa.matrix_assumed THEN sa.matrix END) AS usual_matrix
FROM matched sa
LEFT JOIN registered s ON s.asking = sa.asking AND s.sample_id = sa.registered_id
LEFT JOIN base.known_lot l ON l.lot_key = coalesce(s.lot_key, sa.lot_key)
LEFT JOIN base.lot_name n ON n.lot_key = coalesce(s.lot_key, sa.lot_key);

CREATE OR REPLACE VIEW base.resolved_sample AS
SELECT report_id, lab, report_no, revision, file, is_current, sample_key, load_no, sample_id,
    lab_sample_id, coalesce(said.sample_kind, sample_kind, 'lot') AS sample_kind, placed_lot AS lot,
    coalesce(known.region, region) AS region, coalesce(known.grower, grower) AS grower,
    coalesce(known.vineyard, vineyard) AS vineyard, coalesce(known.block, block) AS block,
    coalesce(known.variety, variety) AS variety, coalesce(known.vintage, vintage) AS vintage,
    CASE WHEN printed_matrix IS NOT NULL THEN printed_matrix
         WHEN may_be_wine THEN coalesce(known.wine, usual_matrix, said.matrix, matrix)
         ELSE matrix END AS matrix,
    placed_stage AS stage, coalesce(said.sampled_on, sampled_on) AS sampled_on, received_on,
    analysed_on, replicate, coalesce(said.treatment, treatment) AS treatment,
    coalesce(said.dose, dose) AS dose,
    CASE WHEN said.dose IS NOT NULL THEN said.dose_unit ELSE dose_unit END AS dose_unit,
    coalesce(said.trial, trial) AS trial,
    coalesce(said.matrix, base.placed_sample.matrix) IS NOT NULL AS matrix_stated,
    matrix_assumed,
    printed_matrix IS NULL AND CASE WHEN may_be_wine
        THEN known.wine IS NULL AND usual_matrix IS NOT NULL
        ELSE matrix_assumed END AS still_assumed
FROM base.placed_sample;

-- Every stored number of every report, with all that is known of it. A number per mass is no wine.
-- Those in whose place a correction stands are marked, and left out of all but the view suspects.
CREATE OR REPLACE VIEW base.every_value AS
WITH settled AS (SELECT value_key, held_id, replaces FROM base.settled WHERE value_key IS NOT NULL)
SELECT v.value_key, sa.load_no, sa.report_id, sa.lab, sa.report_no, sa.revision, sa.is_current,
    CASE WHEN m.outcome <> 'corrected' THEN m.outcome WHEN m.qc_kind IS NULL THEN 'result'
         ELSE 'qc' END AS outcome, m.qc_kind, sa.trial, m.method, sa.sample_id, sa.lab_sample_id, sa.sample_kind,
    sa.lot, sa.region, sa.grower, sa.vineyard, sa.block, sa.variety, sa.vintage,
    CASE WHEN sa.matrix_stated OR m.unit IS DISTINCT FROM 'ug/kg' THEN sa.matrix END AS matrix,
    sa.stage, sa.sampled_on, sa.received_on, sa.analysed_on, m.analyte, m.form, m.expressed_as,
    v.value, m.unit, m.censoring, m.limit_kind, m.lod, m.loq, v.lower, v.upper,
    v.standard_uncertainty, m.uncertainty_source, v.expanded_uncertainty, m.coverage_factor,
    sa.replicate, sa.treatment, sa.dose, sa.dose_unit, m.path_length, m.illuminant, m.observer,
    CASE WHEN NOT sa.matrix_assumed AND NOT sa.still_assumed THEN m.qualifier
         ELSE base.marked(m.qualifier, CASE WHEN sa.still_assumed THEN sa.matrix END)
         END AS qualifier,
    m.raw_analyte, v.raw_value, m.raw_unit, sa.file, m.sheet, v.cell, m.parent_sample, m.expected,
    m.added, m.assigned_deviation, m.assigned_uncertainty, t.held_id,
    v.value_key IN (SELECT replaces FROM settled WHERE replaces IS NOT NULL) AS is_replaced
FROM base.result v
JOIN base.resolved_sample sa USING (sample_key)
JOIN base.measure m USING (measure_key)
LEFT JOIN settled t ON t.value_key = v.value_key
WHERE m.outcome <> 'corrected' OR t.held_id IS NOT NULL;

CREATE OR REPLACE VIEW base.resolved AS
SELECT * EXCLUDE (is_replaced) FROM base.every_value WHERE NOT is_replaced;

CREATE OR REPLACE VIEW base.current_value AS
SELECT * FROM base.resolved WHERE is_current
AND (outcome = 'qc' OR outcome = 'result' AND value_key NOT IN (SELECT value_key FROM base.repeat));

CREATE OR REPLACE VIEW base.counted AS
WITH per_column AS (SELECT measure_key, count(*) AS n FROM base.result GROUP BY measure_key),
piece AS (
    SELECT load_no, outcome, n FROM per_column JOIN base.measure USING (measure_key)
    UNION ALL SELECT value_key >> 32, unnest(['result', 'repeated']), unnest([-1, 1])
        FROM base.repeat WHERE outcome = 'result'
    UNION ALL SELECT load_no, 'held', 1 FROM base.held
    UNION ALL SELECT load_no, outcome, 1 FROM base.unused)
SELECT load_no, outcome, sum(n) AS n FROM piece GROUP BY load_no, outcome;

CREATE OR REPLACE VIEW reports AS
SELECT r.report_id, r.file, r.sha256, r.lab, r.report_no, r.revision, r.supersedes, r.layout,
    r.reported_on, r.loaded_at, r.n_values,
    coalesce(sum(c.n) FILTER (c.outcome = 'result'), 0)::INTEGER AS n_results,
    coalesce(sum(c.n) FILTER (c.outcome = 'qc'), 0)::INTEGER AS n_qc,
    coalesce(sum(c.n) FILTER (c.outcome = 'held'), 0)::INTEGER AS n_held,
    coalesce(sum(c.n) FILTER (c.outcome = 'not_analysed'), 0)::INTEGER AS n_not_analysed,
    coalesce(sum(c.n) FILTER (c.outcome = 'repeated'), 0)::INTEGER AS n_repeated,
    coalesce(sum(c.n) FILTER (c.outcome = 'out_of_scope'), 0)::INTEGER AS n_out_of_scope,
    r.is_current
FROM base.standing r LEFT JOIN base.counted c USING (load_no)
GROUP BY ALL;

-- Each quantified value with the best uncertainty known of it, and where that comes from.
CREATE OR REPLACE VIEW base.own_spread AS
SELECT o.* REPLACE (n.lab AS lab)
FROM base.own_uncertainty o JOIN base.lab_name n ON base.folded(n.lab) = base.folded(o.lab);

CREATE OR REPLACE VIEW base.recorded AS
SELECT * FROM base.own_spread WHERE origin = 'laboratory record';

CREATE OR REPLACE VIEW base.charted AS SELECT * FROM base.own_spread WHERE origin = 'control chart';

CREATE OR REPLACE MACRO base.spread(known, value) AS
    sqrt(known.absolute_uncertainty ** 2 + (known.relative_uncertainty * value) ** 2);

CREATE OR REPLACE MACRO base.is_by_mass(v) AS
    v.censoring IN ('none', 'estimated') AND v.unit IN ('ug/L', 'ug/kg');

CREATE OR REPLACE MACRO base.best_uncertainty(v, recorded, charted) AS
    coalesce(v.standard_uncertainty, base.spread(recorded, v.value), base.spread(charted, v.value),
        CASE WHEN base.is_by_mass(v) THEN base.horwitz_thompson(v.value) END);

CREATE OR REPLACE MACRO base.best_source(v, recorded, charted) AS
    CASE WHEN v.standard_uncertainty IS NOT NULL THEN v.uncertainty_source
         WHEN base.spread(recorded, v.value) IS NOT NULL THEN 'laboratory record'
         WHEN base.spread(charted, v.value) IS NOT NULL THEN 'control chart'
         WHEN base.is_by_mass(v)
         THEN concat_ws('; ', v.uncertainty_source, 'default (Horwitz-Thompson)')
         ELSE v.uncertainty_source END;

CREATE OR REPLACE MACRO base.doubted(qualifier, power) AS CASE WHEN power IS NULL THEN qualifier
    ELSE concat_ws('; ', qualifier, 'unit suspected of a slip: factor 1e' || (-power)) END;

-- What counts, with the suspicion beside the number: it is stored, shown, and never used.
CREATE OR REPLACE VIEW base.told_value AS
SELECT v.* REPLACE (base.doubted(v.qualifier, u.power) AS qualifier),
    pow(10.0, -u.power) AS suspected_factor
FROM base.current_value v LEFT JOIN base.suspect u USING (value_key);

-- Stored numbers that are suspected, and those a person decided on; corrected ones as they were.
CREATE OR REPLACE VIEW suspects AS
WITH settled AS (FROM base.settled_suspect),
meant AS (
    SELECT v.*, base.suspect_id(v.report_id, v.sheet, v.cell, v.held_id) AS suspect_id, u.power,
        u.evidence
    FROM base.every_value v LEFT JOIN base.suspect u USING (value_key)
    WHERE v.is_current AND v.outcome = 'result'
    AND v.value_key NOT IN (SELECT value_key FROM base.repeat)
    AND (u.value_key IS NOT NULL OR EXISTS (SELECT 1 FROM settled s
        WHERE s.report_id = v.report_id AND s.sheet = v.sheet AND s.cell = v.cell)))
SELECT m.suspect_id, m.report_id, m.lab, m.report_no, m.file, m.sheet, m.cell, m.sample_id, m.lot,
    m.analyte, m.form, m.value, m.lower, m.upper, m.unit, pow(10.0, -m.power) AS suspected_factor,
    m.evidence,
    CASE s.decision WHEN 'correct' THEN 'corrected' WHEN 'confirm' THEN 'confirmed'
         WHEN 'ask' THEN 'asked' ELSE 'open' END AS status,
    s.who, s.note, s.settled_at, m.raw_analyte, m.raw_value, m.raw_unit, m.held_id
FROM meant m LEFT JOIN settled s ON s.held_id = m.suspect_id
WHERE m.power IS NOT NULL OR s.held_id IS NOT NULL;

CREATE OR REPLACE VIEW base.weighed AS
SELECT v.* REPLACE (base.best_uncertainty(v, r, c) AS standard_uncertainty,
    base.best_source(v, r, c) AS uncertainty_source)
FROM base.told_value v
LEFT JOIN base.recorded r ON r.lab = v.lab AND r.analyte = v.analyte
    AND r.form IS NOT DISTINCT FROM v.form
LEFT JOIN base.charted c ON c.lab = v.lab AND c.analyte = v.analyte
    AND c.form IS NOT DISTINCT FROM v.form AND c.method IS NOT DISTINCT FROM v.method
    AND c.unit = v.unit;

CREATE OR REPLACE VIEW results AS
SELECT report_id, lab, report_no, revision, method, sample_id, lab_sample_id, sample_kind, lot,
    region, grower, vineyard, block, variety, vintage, matrix, stage, sampled_on, received_on,
    analysed_on, analyte, form, expressed_as, value, unit, censoring, limit_kind, lod, loq, lower,
    upper, standard_uncertainty, uncertainty_source, expanded_uncertainty, coverage_factor,
    replicate, treatment, dose, dose_unit, path_length, illuminant, observer, qualifier,
    raw_analyte, raw_value, raw_unit, file, sheet, cell, held_id, suspected_factor
FROM base.weighed WHERE outcome = 'result';

CREATE OR REPLACE VIEW qc_results AS
SELECT report_id, lab, report_no, revision, method, sample_id, lab_sample_id, sample_kind, lot,
    region, grower, vineyard, block, variety, vintage, matrix, stage, sampled_on, received_on,
    analysed_on, analyte, form, expressed_as, value, unit, censoring, limit_kind, lod, loq, lower,
    upper, standard_uncertainty, uncertainty_source, expanded_uncertainty, coverage_factor,
    replicate, treatment, dose, dose_unit, path_length, illuminant, observer, qualifier,
    raw_analyte, raw_value, raw_unit, file, sheet, cell, qc_kind, parent_sample, expected, added,
    assigned_deviation, assigned_uncertainty, held_id
FROM base.weighed WHERE outcome = 'qc';

CREATE OR REPLACE VIEW held AS
SELECT h.held_id, r.report_id, r.file, h.sheet, h.cell, h.raw_sample, h.raw_analyte, h.raw_value,
    h.raw_unit, h.reason_code, h.reason, h.hint,
    CASE t.decision WHEN 'correct' THEN 'corrected' WHEN 'confirm' THEN 'confirmed'
         WHEN 'dismiss' THEN 'dismissed'
         WHEN 'ask' THEN 'asked' ELSE 'open' END AS status, r.loaded_at AS held_at,
    r.is_current
FROM base.held h JOIN base.standing r USING (load_no) LEFT JOIN base.settled t USING (held_id);

-- Every decision on a held value that was ever taken, and what has become of it.
CREATE OR REPLACE VIEW corrections AS
WITH undone AS (
    SELECT s.settlement_no, min(u.undone_at) AS undone_at
    FROM base.settlement s JOIN base.settlement_undo u
        ON u.held_id = s.held_id AND u.up_to >= s.settlement_no
    GROUP BY s.settlement_no),
told AS (
    SELECT s.*, r.lab, r.report_no, r.file, u.undone_at,
        CASE WHEN u.undone_at IS NOT NULL THEN 'undone'
             WHEN l.settlement_no IS NULL THEN 'replaced'
             WHEN coalesce(t.settlement_no, x.settlement_no) IS NOT NULL AND r.is_current
             THEN 'standing'
             ELSE 'stale' END AS status,
        CASE WHEN u.undone_at IS NOT NULL OR l.settlement_no IS NULL THEN NULL
             WHEN NOT r.is_current THEN 'a newer report replaces this one'
             WHEN coalesce(t.settlement_no, x.settlement_no) IS NOT NULL THEN NULL
             WHEN s.held_id LIKE 'S-%'
             THEN 'judged anew: the number is no longer stored as it was, or the correction no longer passes the rules'
             WHEN h.held_id IS NULL THEN 'judged anew: the value is no longer held'
             WHEN y.settlement_no IS NULL THEN 'judged anew: the value is held for another reason'
             ELSE 'judged anew: the correction no longer passes the rules' END AS reason
    FROM base.settlement s
    JOIN base.standing r USING (report_id)
    LEFT JOIN undone u USING (settlement_no)
    LEFT JOIN base.last_settlement l USING (settlement_no)
    LEFT JOIN base.valid_settlement y USING (settlement_no)
    LEFT JOIN base.settled t USING (settlement_no)
    LEFT JOIN base.settled_suspect x USING (settlement_no)
    LEFT JOIN base.held h ON h.held_id = s.held_id)
SELECT held_id, report_id, lab, report_no, file, sheet, cell, raw_sample, raw_analyte, raw_value,
    raw_unit, reason_code, decision, corrected_value, corrected_unit, corrected_analyte,
    corrected_form, corrected_sample, who, note, status, reason, settled_at, undone_at,
    corrected_date, corrected_dose, corrected_replicate, corrected_path_length, corrected_matrix,
    corrected_factor
FROM told;

CREATE OR REPLACE VIEW unused AS
SELECT r.report_id, r.file, u.sheet, u.cell, u.raw_sample, u.raw_analyte, u.raw_value, u.outcome
FROM base.unused u JOIN base.report r USING (load_no);

CREATE OR REPLACE VIEW fractions AS SELECT * FROM base.fraction;

CREATE OR REPLACE VIEW panels AS SELECT * FROM base.panel;

CREATE OR REPLACE VIEW flags AS SELECT * FROM base.flag;

CREATE OR REPLACE VIEW quality AS SELECT * FROM base.quality;

CREATE OR REPLACE VIEW lots AS
SELECT lot, region, grower, vineyard, block, variety, colour, vintage, volume_l,
    expected_picking_on
FROM base.known_lot;

CREATE OR REPLACE VIEW samples AS
SELECT s.sample_id, s.lab, coalesce(l.lot, s.lot) AS lot, s.sample_kind, s.matrix, s.stage,
    s.sampled_on, s.bunches, s.brix, s.treatment, s.dose, s.dose_unit, s.trial
FROM base.known_sample s LEFT JOIN base.known_lot l USING (lot_key);

CREATE OR REPLACE VIEW movements AS SELECT DISTINCT * EXCLUDE (version) FROM base.movement;

CREATE OR REPLACE VIEW interventions AS SELECT DISTINCT * EXCLUDE (version) FROM base.intervention;

CREATE OR REPLACE VIEW tastings AS SELECT DISTINCT * EXCLUDE (version) FROM base.tasting;

CREATE OR REPLACE VIEW decisions AS SELECT DISTINCT * EXCLUDE (version) FROM base.decision;

CREATE OR REPLACE VIEW exposures AS SELECT DISTINCT * EXCLUDE (version) FROM base.exposure;

CREATE OR REPLACE VIEW unassigned AS
SELECT lab, sample_id, count(*) AS n_results
FROM base.current_value WHERE outcome = 'result' AND lot IS NULL GROUP BY ALL;

-- What a report in force prints otherwise than the register, whose word is used, or, where the
-- register is silent, otherwise than the laboratory's other reports.
CREATE OR REPLACE MACRO base.folded(word) AS regexp_replace(lower(trim(word)), '\s+', ' ', 'g');

CREATE OR REPLACE VIEW contradictions AS
WITH printed AS (
    SELECT sa.*, p.report_id, p.lab, p.report_no, p.file, p.placed_lot, p.said, p.known,
        'sample ' || p.sharing || sa.sample_id AS of_name,
        'sample ' || concat_ws('|', p.sharing, sa.sample_id, p.lot_key, p.sampled_on) AS of_sample,
        coalesce('lot ' || p.lot_key, of_name) AS of_lot
    FROM base.sample sa JOIN base.placed_sample p USING (sample_key) WHERE p.is_current),
compared AS (
    SELECT sample_key, report_id, lab, report_no, file, sample_id, placed_lot AS lot, unnest([
        {'field': 'lot', 'same': of_name, 'report': sa.lot, 'register': said.lot},
        {'field': 'region', 'same': of_lot, 'report': region, 'register': known.region},
        {'field': 'grower', 'same': of_lot, 'report': grower, 'register': known.grower},
        {'field': 'vineyard', 'same': of_lot, 'report': vineyard, 'register': known.vineyard},
        {'field': 'block', 'same': of_lot, 'report': block, 'register': known.block},
        {'field': 'variety', 'same': of_lot, 'report': variety, 'register': known.variety},
        {'field': 'vintage', 'same': of_lot, 'report': vintage::VARCHAR,
         'register': known.vintage::VARCHAR},
        {'field': 'sample_kind', 'same': NULL, 'report': nullif(sample_kind, 'lot'),
         'register': said.sample_kind},
        {'field': 'stage', 'same': CASE WHEN sampled_on IS NOT NULL THEN of_sample END,
         'report': stage, 'register': said.stage},
        {'field': 'sampled_on', 'same': NULL, 'report': sampled_on::VARCHAR,
         'register': said.sampled_on::VARCHAR},
        {'field': 'treatment', 'same': NULL, 'report': treatment, 'register': said.treatment},
        {'field': 'dose', 'same': NULL, 'report': dose::VARCHAR, 'register': said.dose::VARCHAR},
        {'field': 'matrix', 'same': of_sample,
         'report': CASE WHEN NOT matrix_assumed THEN nullif(matrix, 'wine') END,
         'register': coalesce(nullif(said.matrix, 'wine'),
             CASE WHEN matrix IN ('red wine', 'white wine', 'rose wine') THEN known.wine END)}
    ], recursive := true)
    FROM printed sa),
worded AS (
    SELECT field, same, list(DISTINCT report ORDER BY report) AS words FROM compared
    WHERE same IS NOT NULL AND register IS NULL AND report IS NOT NULL GROUP BY field, same),
opposed AS (
    SELECT c.*, array_to_string([word FOR word IN w.words
        IF base.folded(word) <> base.folded(c.report)], ' / ') AS elsewhere
    FROM compared c LEFT JOIN worded w ON w.field = c.field AND w.same = c.same
        AND c.register IS NULL
    WHERE c.report IS NOT NULL),
place AS (
    SELECT v.sample_key, min_by(m.sheet, v.value_key) AS sheet, min_by(v.cell, v.value_key) AS cell
    FROM base.result v JOIN base.measure m USING (measure_key)
    WHERE v.value_key NOT IN (SELECT value_key FROM base.set_aside)
    GROUP BY v.sample_key)
SELECT c.report_id, c.lab, c.report_no, c.sample_id, c.lot, c.field, c.report AS in_report,
    c.register AS in_register, c.file, min_by(p.sheet, c.sample_key) AS sheet,
    min_by(p.cell, c.sample_key) AS cell, nullif(c.elsewhere, '') AS in_other_reports
FROM opposed c JOIN place p USING (sample_key)
WHERE base.folded(c.report) <> base.folded(c.register) OR c.elsewhere <> ''
GROUP BY ALL;

-- Values of a superseded report that the report in force neither carries nor holds back.
CREATE OR REPLACE VIEW withdrawn AS
WITH succession AS (FROM base.succession),
told AS (
    SELECT * FROM base.resolved
    WHERE outcome IN ('result', 'repeated')
    AND load_no IN (SELECT older FROM succession UNION SELECT newer FROM succession)),
carried AS (SELECT DISTINCT load_no, sample_id, analyte, form, method FROM told),
gone AS (
    SELECT s.newer, v.*, s.rank, s.reported_on
    FROM told v
    JOIN succession s ON s.older = v.load_no
    LEFT JOIN carried c ON c.load_no = s.newer AND c.sample_id = v.sample_id
        AND c.analyte = v.analyte AND c.form IS NOT DISTINCT FROM v.form
        AND c.method IS NOT DISTINCT FROM v.method
    LEFT JOIN base.held h ON h.load_no = s.newer AND h.raw_analyte = v.raw_analyte
        AND h.raw_sample IN (v.sample_id, v.lab_sample_id)
    WHERE c.load_no IS NULL AND h.load_no IS NULL)
SELECT n.report_id, n.lab, n.report_no, n.revision, v.sample_id, v.lot, v.analyte, v.form,
    v.method, v.value, v.lower, v.upper, v.unit, v.raw_value, v.report_id AS old_report_id,
    v.file, v.sheet, v.cell
FROM gone v JOIN base.standing n ON n.load_no = v.newer AND n.is_current
QUALIFY dense_rank() OVER (
    PARTITION BY n.report_id, v.sample_id, v.analyte, v.form, v.method
    ORDER BY v.rank DESC, v.reported_on DESC NULLS LAST, v.report_id) = 1;

-- What each report changed against the one it replaces, value by value.
CREATE OR REPLACE VIEW amendments AS
WITH pair AS (
    SELECT n.load_no AS new_no, n.older AS old_no, n.report_id, n.lab, n.report_no, n.revision,
        n.supersedes AS old_report_id, n.is_current
    FROM base.standing n WHERE n.older IS NOT NULL),
told AS (
    SELECT *, row_number() OVER (PARTITION BY load_no, sample_id, analyte, form, method,
        expressed_as, replicate ORDER BY value_key) AS turn
    FROM base.resolved
    WHERE outcome IN ('result', 'repeated')
    AND load_no IN (SELECT new_no FROM pair UNION SELECT old_no FROM pair)),
kept AS (
    SELECT h.load_no, h.raw_sample, h.raw_analyte, h.raw_value AS text, h.sheet, h.cell,
        r.file || '|' || h.sheet || '!' || h.cell AS place,
        lower(regexp_extract(x.reading, '"raw_form":"([^"]*)"', 1)) AS printed_form
    FROM base.held h JOIN base.report r USING (load_no)
    LEFT JOIN base.held_context x ON x.held_id = h.held_id
    LEFT JOIN base.settled t ON t.held_id = h.held_id AND t.value_key IS NOT NULL
    WHERE t.held_id IS NULL),
now AS (SELECT t.*, p.new_no FROM told t JOIN pair p ON p.new_no = t.load_no),
was AS (SELECT t.*, p.new_no FROM told t JOIN pair p ON p.old_no = t.load_no),
beside AS (
    SELECT coalesce(n.new_no, w.new_no) AS new_no, coalesce(n.sample_id, w.sample_id) AS sample_id,
        coalesce(n.lab_sample_id, w.lab_sample_id) AS lab_sample_id,
        coalesce(n.raw_analyte, w.raw_analyte) AS raw_analyte,
        coalesce(n.lot, w.lot) AS lot, coalesce(n.analyte, w.analyte) AS analyte,
        coalesce(n.form, w.form) AS form, coalesce(n.method, w.method) AS method,
        coalesce(n.replicate, w.replicate) AS replicate,
        CASE WHEN w.load_no IS NULL THEN 'added' WHEN n.load_no IS NULL THEN 'withdrawn'
             ELSE 'changed' END AS change,
        w.value AS old_value, w.lower AS old_lower, w.upper AS old_upper, w.unit AS old_unit,
        w.raw_value AS raw_before, n.value, n.lower, n.upper, n.unit, n.raw_value AS raw_now,
        w.file || '|' || w.sheet || '!' || w.cell AS old_cell,
        n.file || '|' || n.sheet || '!' || n.cell AS new_cell,
        coalesce(n.file, w.file) AS file, coalesce(n.sheet, w.sheet) AS sheet,
        coalesce(n.cell, w.cell) AS cell
    FROM now n FULL JOIN was w ON n.new_no = w.new_no AND n.sample_id = w.sample_id
        AND n.analyte = w.analyte AND n.form IS NOT DISTINCT FROM w.form
        AND n.method IS NOT DISTINCT FROM w.method AND n.turn = w.turn
        AND n.expressed_as IS NOT DISTINCT FROM w.expressed_as
        AND n.replicate IS NOT DISTINCT FROM w.replicate
    WHERE n.value IS DISTINCT FROM w.value OR n.lower IS DISTINCT FROM w.lower
        OR n.upper IS DISTINCT FROM w.upper OR n.unit IS DISTINCT FROM w.unit),
-- A value is matched to a held one by the printed analyte and sample; the form of a held one may not
-- be known, so of several the one in the same cell goes first, then the one whose printed form fits,
-- and a held value that fits one of them so is not given to another.
near AS (
    SELECT b.new_no, b.old_cell, b.new_cell, k.text, k.place,
        CASE WHEN k.sheet = b.sheet AND k.cell = b.cell THEN 0
             WHEN contains(k.printed_form, b.form) THEN 1 ELSE 2 END AS far
    FROM beside b JOIN pair p USING (new_no)
    JOIN kept k ON k.raw_analyte = b.raw_analyte AND k.raw_sample IN (b.sample_id, b.lab_sample_id)
        AND (b.change = 'withdrawn' AND k.load_no = p.new_no
            OR b.change = 'added' AND k.load_no = p.old_no)
    QUALIFY far = min(far) OVER (PARTITION BY b.new_no, b.change, k.place)),
nearest AS (
    SELECT * EXCLUDE (far) FROM near
    QUALIFY row_number() OVER (PARTITION BY new_no, old_cell, new_cell ORDER BY far, place) = 1),
matched AS (
    SELECT b.*, p.* EXCLUDE (new_no, old_no), k.text, k.place
    FROM beside b JOIN pair p USING (new_no)
    LEFT JOIN nearest k ON k.new_no = b.new_no AND k.old_cell IS NOT DISTINCT FROM b.old_cell
        AND k.new_cell IS NOT DISTINCT FROM b.new_cell)
SELECT report_id, old_report_id, lab, report_no, revision, sample_id, lot, analyte, form, method,
    replicate, CASE WHEN change = 'withdrawn' AND place IS NOT NULL THEN 'held' ELSE change END
    AS change, old_value, old_lower, old_upper, old_unit,
    coalesce(raw_before, CASE WHEN change = 'added' THEN text END) AS raw_before, value, lower,
    upper, unit, coalesce(raw_now, CASE WHEN change = 'withdrawn' THEN text END) AS raw_now,
    coalesce(old_cell, CASE WHEN change = 'added' THEN place END) AS old_cell,
    coalesce(new_cell, CASE WHEN change = 'withdrawn' THEN place END) AS new_cell, file, sheet,
    cell, is_current
FROM matched;
