-- The same count in SQL. $file, $threads and whether it is two versions are put in by run.py.
-- 0 does not conform, 1 not decided, 2 conforms. No U is a whole number of steps of what is read, so that roots of sums of
-- squares may be rounded to four decimals.
CREATE OR REPLACE TEMP MACRO number(reading) AS CAST(split_part(reading, ' ', 1) AS DECIMAL(9, 3));
CREATE OR REPLACE TEMP MACRO by_u(margin, u) AS CASE WHEN margin IS NULL THEN 1 WHEN margin > u THEN 2 WHEN margin < -u THEN 0 ELSE 1 END;
CREATE OR REPLACE TEMP MACRO within(value, low, high, u) AS least(by_u(value - low, u), by_u(high - value, u));
CREATE OR REPLACE TEMP MACRO is_yes(answer) AS CASE answer WHEN 'yes' THEN 2 WHEN 'no' THEN 0 ELSE 1 END;

WITH lines AS (
    SELECT boat.sail_number AS boat, unnest(runners) AS r
    FROM read_json(
        '{file}',
        format = 'newline_delimited',
        columns = {
            'boat': 'STRUCT(sail_number VARCHAR)',
            'runners': 'STRUCT("position" VARCHAR, construction VARCHAR, steel_thickness STRUCT(places STRUCT(readings VARCHAR)[]), toe_at VARCHAR, heel_at VARCHAR, exposed_depth VARCHAR, body_thickness VARCHAR, pivot_height VARCHAR, pivot_hole VARCHAR, mass VARCHAR, stem_height VARCHAR, stem_width VARCHAR, foot_width VARCHAR, hardness VARCHAR, edge_angle VARCHAR, nose_rounded VARCHAR, label_engraved VARCHAR)[]'
        }
    )
),
numbers AS (
    SELECT
        boat,
        r.position AS position,
        r.construction AS construction,
        list_transform(r.steel_thickness.places, lambda p: number(p.readings)) AS thickness,
        number(r.toe_at) AS toe,
        number(r.heel_at) AS heel,
        number(r.exposed_depth) AS exposed,
        number(r.body_thickness) AS body,
        number(r.pivot_height) AS height,
        number(r.pivot_hole) AS hole,
        number(r.mass) AS mass,
        number(r.stem_height) AS stem,
        number(r.stem_width) AS stem_width,
        number(r.foot_width) AS foot,
        number(r.hardness) AS hardness,
        number(r.edge_angle) AS angle,
        r.nose_rounded AS nose,
        r.label_engraved AS label
    FROM lines
),
extremes AS (
    SELECT *, list_min(thickness) AS thin, list_max(thickness) AS thick, coalesce(len(thickness), 0) >= 4 AS enough FROM numbers
),
limits AS (
    SELECT
        *,
        CASE construction WHEN 'plate' THEN 6.00 WHEN 'insert' THEN 4.70 ELSE 4.00 END AS thinnest_old,
        CASE construction WHEN 'plate' THEN 6.00 WHEN 'insert' THEN 4.80 ELSE 4.00 END AS thinnest_new,
        CASE construction WHEN 'plate' THEN 2.0 WHEN 'insert' THEN 1.8 ELSE 1.6 END AS lightest,
        CASE construction WHEN 'plate' THEN 5.0 ELSE 4.5 END AS heaviest,
        CASE position WHEN 'steering' THEN 80 ELSE 85 END AS lowest,
        CASE position WHEN 'steering' THEN 95 ELSE 100 END AS highest
    FROM extremes
),
rules AS (
    SELECT
        boat,
        least(
            CASE WHEN enough THEN by_u(9 - thick, 0.055) ELSE least(1, by_u(9 - thick, 0.055)) END,
            within(toe - heel, 600, 900, 1.0607),
            by_u(420 - toe, 0.75),
            by_u(heel + 410, 0.75),
            within(exposed, 70, 95, 0.255),
            within(body, 20, 32, 0.105),
            within(height, lowest, highest, 0.255),
            within(mass, lightest, heaviest, 0.015),
            within(stem, 25, 40, 0.105),
            by_u(foot - 18, 0.055),
            CASE WHEN construction = 'angle' THEN 2 ELSE within(angle, 80, 100, 0.75) END,
            by_u(124 - height - body, 0.2758),
            CASE WHEN position = 'steering' THEN by_u(mass - 2.2, 0.015) ELSE 2 END,
            by_u(exposed - stem - 36, 0.2758),
            is_yes(nose),
            is_yes(label)
        ) AS same,
        CASE WHEN enough THEN by_u(thin - thinnest_old, 0.055) ELSE least(1, by_u(thin - thinnest_old, 0.055)) END AS thin_old,
        CASE WHEN enough THEN by_u(thin - thinnest_new, 0.055) ELSE least(1, by_u(thin - thinnest_new, 0.055)) END AS thin_new,
        within(hole, 10.00, 10.40, 0.055) AS hole_old,
        within(hole, 10.00, 10.25, 0.055) AS hole_new,
        by_u(8 - stem_width, 0.055) AS stem_old,
        by_u(8.5 - stem_width, 0.055) AS stem_new,
        within(hardness, 44, 62, 1.25) AS hardness_old,
        within(hardness, 47, 62, 1.25) AS hardness_new
    FROM limits
),
runners AS (
    SELECT
        boat,
        least(same, thin_old, hole_old, stem_old, hardness_old) AS old,
        least(same, thin_new, hole_new, stem_new, hardness_new) AS new,
        3 * thin_old + thin_new AS thin,
        3 * hole_old + hole_new AS hole,
        3 * stem_old + stem_new AS stem,
        3 * hardness_old + hardness_new AS hardness
    FROM rules
),
boats AS (
    SELECT
        min(old) AS old,
        min(new) AS new,
        {sums}
    FROM runners
    GROUP BY boat
)
SELECT {columns}
FROM boats;
